package notebook

import (
	"fmt"
	"maps"
	"strings"
)

// WriteFile writes nb to the named file in the canonical form of [Encode]. The
// file is either wholly written or left as it was: the text goes to a new file
// beside it, which then takes its name.
func (nb *Notebook) WriteFile(name string) error {
	text, err := nb.Encode()
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return ReplaceFile(name, text)
}

// Encode returns nb in canonical form, as format 4.5. It normalises nb first,
// see [Notebook.Normalise]. It fails only if a value put into the notebook by a
// program has no JSON form.
func (nb *Notebook) Encode() ([]byte, error) {
	nb.Normalise()
	top := maps.Clone(nb.extra)
	if top == nil {
		top = map[string]any{}
	}
	top["nbformat"] = 4
	top["nbformat_minor"] = 5
	top["metadata"] = nb.Metadata
	cells := []any{}
	for _, c := range nb.Cells {
		cells = append(cells, cellTree(c))
	}
	top["cells"] = cells
	text, err := appendValue(nil, top, 0)
	if err != nil {
		return nil, err
	}
	return append(text, '\n'), nil
}

func cellTree(c *Cell) map[string]any {
	m := maps.Clone(c.extra)
	if m == nil {
		m = map[string]any{}
	}
	m["cell_type"] = c.Kind
	m["id"] = c.ID
	m["source"] = splitLines(c.Source)
	m["metadata"] = c.Metadata
	if c.Attachments != nil {
		files := map[string]any{}
		for name, a := range c.Attachments {
			if bundle, ok := a.(map[string]any); ok {
				a = splitBundle(bundle)
			}
			files[name] = a
		}
		m["attachments"] = files
	}
	if c.Kind == CodeCell {
		m["execution_count"] = countTree(c.Count)
		outputs := []any{}
		for _, o := range c.Outputs {
			outputs = append(outputs, outputTree(o))
		}
		m["outputs"] = outputs
	}
	return m
}

func outputTree(o *Output) map[string]any {
	m := maps.Clone(o.extra)
	if m == nil {
		m = map[string]any{}
	}
	m["output_type"] = o.Kind
	switch o.Kind {
	case StreamOutput:
		m["name"] = o.Name
		m["text"] = splitLines(o.Text)
	case DisplayOutput, ResultOutput:
		m["data"] = splitBundle(o.Bundle.Data)
		m["metadata"] = orEmpty(o.Bundle.Metadata)
		if o.Kind == ResultOutput {
			m["execution_count"] = countTree(o.Count)
		}
	case ErrorOutput:
		m["ename"] = o.ErrorName
		m["evalue"] = o.ErrorValue
		traceback := []any{}
		for _, line := range o.Traceback {
			traceback = append(traceback, line)
		}
		m["traceback"] = traceback
	}
	return m
}

func countTree(n int) any {
	if n == 0 {
		return nil
	}
	return n
}

func orEmpty(m map[string]any) map[string]any {
	if m == nil {
		return map[string]any{}
	}
	return m
}

// splitBundle splits text content into lines, as the reference tools do.
func splitBundle(bundle map[string]any) map[string]any {
	split := map[string]any{}
	for mime, v := range bundle {
		s, ok := v.(string)
		if ok && (strings.HasPrefix(mime, "text/") || mime == "application/javascript" || mime == "image/svg+xml") {
			v = splitLines(s)
		}
		split[mime] = v
	}
	return split
}

// splitLines cuts text after each line end, keeping the ends. The reference
// tools count as line ends what Python's str.splitlines does.
func splitLines(text string) []any {
	lines := []any{}
	runes := []rune(text)
	start := 0
	for i, r := range runes {
		switch r {
		case '\r':
			if i+1 < len(runes) && runes[i+1] == '\n' {
				continue
			}
		case '\n', '\v', '\f', '\x1c', '\x1d', '\x1e', '\u0085', '\u2028', '\u2029':
		default:
			continue
		}
		lines = append(lines, string(runes[start:i+1]))
		start = i + 1
	}
	if start < len(runes) {
		lines = append(lines, string(runes[start:]))
	}
	return lines
}
