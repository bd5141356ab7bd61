package notebook

import (
	"slices"

	"rotorhum/kernel/cell"
)

// Notebook is one Jupyter notebook of format 4. Fields of the file that the
// package does not know are kept and written back.
type Notebook struct {
	// Metadata is the notebook's own metadata, never nil.
	Metadata map[string]any
	// Cells are the cells from top to bottom.
	Cells []*Cell

	extra map[string]any
}

// The kinds of cell that nbformat 4 knows.
const (
	CodeCell     = "code"
	MarkdownCell = "markdown"
	RawCell      = "raw"
)

// Cell is one cell of a notebook.
type Cell struct {
	// Kind is CodeCell, MarkdownCell or RawCell.
	Kind string
	// ID names the cell inside its notebook. It is "" in files before format
	// 4.5 until the notebook is written or [Notebook.Normalise] is called.
	ID string
	// Source is the cell's text.
	Source string
	// Metadata is never nil.
	Metadata map[string]any
	// Attachments holds files pasted into a Markdown or raw cell: name, then
	// MIME type, then content. It is nil where there are none.
	Attachments map[string]any
	// Outputs are what a code cell showed when it ran last.
	Outputs []*Output
	// Count is a code cell's execution count, 0 if it has none.
	Count int

	extra map[string]any
}

// The kinds of output that nbformat 4 knows.
const (
	StreamOutput  = "stream"
	DisplayOutput = "display_data"
	ResultOutput  = "execute_result"
	ErrorOutput   = "error"
)

// Output is one piece of what a code cell showed. Kind says which of the other
// fields apply.
type Output struct {
	Kind string
	// Name ("stdout" or "stderr") and Text are a stream's.
	Name, Text string
	// Bundle is the content of a display or a result.
	Bundle cell.Bundle
	// Count is a result's execution count, 0 if it has none.
	Count int
	// ErrorName, ErrorValue and Traceback are an error's.
	ErrorName, ErrorValue string
	Traceback             []string

	extra map[string]any
}

// Tags returns the cell's tags, the list of words under "tags" in its metadata.
func (c *Cell) Tags() []string {
	list, _ := c.Metadata["tags"].([]any)
	var tags []string
	for _, t := range list {
		if s, ok := t.(string); ok {
			tags = append(tags, s)
		}
	}
	return tags
}

// Tagged reports whether the cell carries any of the given tags.
func (c *Cell) Tagged(any ...string) bool {
	for _, t := range c.Tags() {
		if slices.Contains(any, t) {
			return true
		}
	}
	return false
}

// Language returns the programming language that the notebook says it is
// written in, in the notebook's own spelling, or "" if it does not say.
func (nb *Notebook) Language() string {
	if s := textAt(nb.Metadata, "kernelspec", "language"); s != "" {
		return s
	}
	return textAt(nb.Metadata, "language_info", "name")
}

// KernelName returns the kernel that the notebook asks for, or "".
func (nb *Notebook) KernelName() string { return textAt(nb.Metadata, "kernelspec", "name") }

// textAt follows keys through nested objects to a string; it returns "" when
// the way or the string is missing.
func textAt(object map[string]any, keys ...string) string {
	var at any = object
	for _, k := range keys {
		m, ok := at.(map[string]any)
		if !ok {
			return ""
		}
		at = m[k]
	}
	s, _ := at.(string)
	return s
}
