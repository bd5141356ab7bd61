package notebook

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
)

// ReadFile reads the notebook in the named file. It accepts formats 4.0 to 4.5.
// Errors name the file and match [ErrFormat], [ErrVersion], [ErrLimit] or the
// cause from the operating system.
func ReadFile(name string) (*Notebook, error) {
	text, err := ReadText(name)
	if err != nil {
		return nil, err
	}
	nb, err := Read(text)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return nb, nil
}

// ReadText returns the bytes of the named file, for [Read]. It refuses what is
// no regular file (opening a pipe could wait for ever) and what is longer than
// [MaxBytes].
func ReadText(name string) ([]byte, error) {
	info, err := os.Stat(name)
	switch {
	case err != nil:
		return nil, err
	case info.IsDir():
		return nil, fmt.Errorf("%s: %w: it is a folder; name the .ipynb file in it", name, ErrFormat)
	case !info.Mode().IsRegular():
		return nil, fmt.Errorf("%s: %w: it is not a regular file", name, ErrFormat)
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, MaxBytes+1))
	if err == nil && len(text) > MaxBytes {
		err = fmt.Errorf("%s: %w", name, checkLimits(text))
	}
	return text, err
}

// Read decodes a notebook from the bytes of its file. See [ReadFile].
func Read(text []byte) (*Notebook, error) {
	text = bytes.TrimPrefix(text, []byte("\ufeff"))
	if err := checkLimits(text); err != nil {
		return nil, err
	}
	top, err := decodeObject(text)
	if err != nil {
		return nil, err
	}
	if err := checkVersion(top); err != nil {
		return nil, err
	}
	nb := &Notebook{}
	if nb.Metadata, err = takeObject(top, "metadata"); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrFormat, err)
	}
	cells, ok := top["cells"].([]any)
	if !ok {
		return nil, fmt.Errorf("%w: it has no list of cells; it may have been cut short or belong to another program", ErrFormat)
	}
	delete(top, "cells")
	delete(top, "nbformat")
	delete(top, "nbformat_minor")
	nb.extra = top
	for i, v := range cells {
		c, err := readCell(v)
		if err != nil {
			return nil, fmt.Errorf("%w: cell %d: %w", ErrFormat, i+1, err)
		}
		nb.Cells = append(nb.Cells, c)
	}
	return nb, nil
}

// decodeObject decodes the one JSON object that a notebook file is.
func decodeObject(text []byte) (map[string]any, error) {
	if len(bytes.TrimSpace(text)) == 0 {
		return nil, fmt.Errorf("%w: the file is empty", ErrFormat)
	}
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	var top any
	if err := d.Decode(&top); err != nil {
		if marker := conflictMarker(text); marker > 0 {
			return nil, fmt.Errorf("%w: line %d is a merge conflict marker; resolve the merge first", ErrFormat, marker)
		}
		var syntax *json.SyntaxError
		switch {
		case errors.As(err, &syntax):
			return nil, fmt.Errorf("%w: line %d is not JSON (%v); restore the file from a copy or a checkpoint", ErrFormat, lineOf(text, int(syntax.Offset)), err)
		case errors.Is(err, io.ErrUnexpectedEOF):
			return nil, fmt.Errorf("%w: it ends in the middle of line %d; restore the file from a copy or a checkpoint", ErrFormat, lineOf(text, len(text)))
		}
		return nil, fmt.Errorf("%w: %w", ErrFormat, err)
	}
	if _, err := d.Token(); err != io.EOF {
		return nil, fmt.Errorf("%w: there is more text after its end, at line %d; restore the file from a copy", ErrFormat, lineOf(text, int(d.InputOffset())))
	}
	object, ok := top.(map[string]any)
	if !ok {
		return nil, fmt.Errorf("%w: it is JSON, but not an object", ErrFormat)
	}
	return object, nil
}

// conflictMarker returns the line of the first version-control conflict marker, or 0.
func conflictMarker(text []byte) int {
	for i, line := range bytes.Split(text, []byte("\n")) {
		if bytes.HasPrefix(line, []byte("<<<<<<< ")) || bytes.HasPrefix(line, []byte(">>>>>>> ")) {
			return i + 1
		}
	}
	return 0
}

func checkVersion(top map[string]any) error {
	if _, ok := top["nbformat"]; !ok {
		return fmt.Errorf("%w: it does not say its nbformat, so it is not a notebook", ErrFormat)
	}
	major, okMajor := integer(top["nbformat"])
	minor, okMinor := integer(top["nbformat_minor"])
	switch {
	case !okMajor:
		return fmt.Errorf("%w: its nbformat is not a whole number", ErrFormat)
	case major != 4:
		return fmt.Errorf("%w: it is nbformat %d, formats 4.0 to 4.5 are read; open it in Jupyter and save it", ErrVersion, major)
	case !okMinor:
		return fmt.Errorf("%w: its nbformat_minor is missing or not a whole number", ErrFormat)
	case minor < 0 || minor > 5:
		return fmt.Errorf("%w: it is nbformat 4.%d, formats 4.0 to 4.5 are read; save it as 4.5", ErrVersion, minor)
	}
	return nil
}

func readCell(v any) (*Cell, error) {
	m, ok := v.(map[string]any)
	if !ok {
		return nil, errors.New("it is not an object")
	}
	c := &Cell{}
	var err error
	if c.Kind, err = takeText(m, "cell_type"); err != nil {
		return nil, err
	}
	if c.Kind != CodeCell && c.Kind != MarkdownCell && c.Kind != RawCell {
		return nil, fmt.Errorf("cell_type %q is none of code, markdown and raw", c.Kind)
	}
	if c.Source, err = takeText(m, "source"); err != nil {
		return nil, err
	}
	if c.Metadata, err = takeObject(m, "metadata"); err != nil {
		return nil, err
	}
	c.ID, _ = m["id"].(string)
	delete(m, "id")
	if _, ok := m["attachments"].(map[string]any); ok {
		if c.Attachments, err = takeObject(m, "attachments"); err != nil {
			return nil, err
		}
		for _, a := range c.Attachments {
			if bundle, ok := a.(map[string]any); ok {
				joinBundle(bundle)
			}
		}
	}
	if c.Kind == CodeCell {
		if err := readRun(c, m); err != nil {
			return nil, err
		}
	}
	c.extra = m
	return c, nil
}

// readRun takes from m what a code cell keeps of its last run.
func readRun(c *Cell, m map[string]any) error {
	if n, ok := integer(m["execution_count"]); ok {
		c.Count = n
	}
	delete(m, "execution_count")
	outputs, ok := m["outputs"].([]any)
	if !ok && m["outputs"] != nil {
		return errors.New("its outputs are not a list")
	}
	delete(m, "outputs")
	for i, v := range outputs {
		o, err := readOutput(v)
		if err != nil {
			return fmt.Errorf("output %d: %w", i+1, err)
		}
		c.Outputs = append(c.Outputs, o)
	}
	return nil
}

func readOutput(v any) (*Output, error) {
	m, ok := v.(map[string]any)
	if !ok {
		return nil, errors.New("it is not an object")
	}
	o := &Output{}
	var err error
	if o.Kind, err = takeText(m, "output_type"); err != nil {
		return nil, err
	}
	switch o.Kind {
	case StreamOutput:
		if o.Name, err = takeText(m, "name"); err != nil {
			return nil, err
		}
		if o.Text, err = takeText(m, "text"); err != nil {
			return nil, err
		}
	case DisplayOutput, ResultOutput:
		if o.Bundle.Data, err = takeObject(m, "data"); err != nil {
			return nil, err
		}
		joinBundle(o.Bundle.Data)
		if o.Bundle.Metadata, err = takeObject(m, "metadata"); err != nil {
			return nil, err
		}
		if o.Kind == ResultOutput {
			o.Count, _ = integer(m["execution_count"])
			delete(m, "execution_count")
		}
	case ErrorOutput:
		if o.ErrorName, err = takeText(m, "ename"); err != nil {
			return nil, err
		}
		if o.ErrorValue, err = takeText(m, "evalue"); err != nil {
			return nil, err
		}
		lines, ok := m["traceback"].([]any)
		if !ok && m["traceback"] != nil {
			return nil, errors.New("its traceback is not a list")
		}
		delete(m, "traceback")
		for _, line := range lines {
			s, ok := line.(string)
			if !ok {
				return nil, errors.New("its traceback holds something that is not text")
			}
			o.Traceback = append(o.Traceback, s)
		}
	default:
		return nil, fmt.Errorf("output_type %q is none of stream, display_data, execute_result and error", o.Kind)
	}
	o.extra = m
	return o, nil
}

// takeText removes a text field from m. Text is one string or a list of strings
// to be joined.
func takeText(m map[string]any, key string) (string, error) {
	v, ok := m[key]
	if !ok {
		return "", fmt.Errorf("%q is missing", key)
	}
	delete(m, key)
	s, ok := joinedText(v)
	if !ok {
		return "", fmt.Errorf("%q is neither text nor a list of lines", key)
	}
	return s, nil
}

// takeObject removes an object field from m; a missing one is an empty object.
func takeObject(m map[string]any, key string) (map[string]any, error) {
	v, ok := m[key]
	if !ok || v == nil {
		delete(m, key)
		return map[string]any{}, nil
	}
	object, ok := v.(map[string]any)
	if !ok {
		return nil, fmt.Errorf("%q is not an object", key)
	}
	delete(m, key)
	return object, nil
}

// joinBundle joins the lists of lines in a MIME bundle, in place, except for
// JSON types, whose lists are values.
func joinBundle(bundle map[string]any) {
	for mime, v := range bundle {
		if isJSONType(mime) {
			continue
		}
		if s, ok := joinedText(v); ok {
			bundle[mime] = s
		}
	}
}

func isJSONType(mime string) bool {
	return mime == "application/json" || strings.HasPrefix(mime, "application/") && strings.HasSuffix(mime, "+json")
}

func joinedText(v any) (string, bool) {
	switch v := v.(type) {
	case string:
		return v, true
	case []any:
		var b strings.Builder
		for _, line := range v {
			s, ok := line.(string)
			if !ok {
				return "", false
			}
			b.WriteString(s)
		}
		return b.String(), true
	}
	return "", false
}

func integer(v any) (int, bool) {
	n, ok := v.(json.Number)
	if !ok {
		return 0, false
	}
	i, err := n.Int64()
	return int(i), err == nil
}
