// Package cell holds the words that the interpreter shares with those who run
// it: what a cell is asked, what it shows while it runs and how it ends. It
// knows no Jupyter message and no interpreter type, so that the session (which
// speaks to front ends) and the notebook runner (which does not) meet the same
// interpreter through the same few types.
package cell

import (
	"strings"
	"unicode/utf8"
)

// Bundle is one value in several representations, keyed by MIME type. Text and
// base64-encoded binary data are strings; JSON-like types hold Go values that
// encoding/json accepts. A bundle that is shown always has "text/plain".
type Bundle struct {
	Data     map[string]any
	Metadata map[string]any
}

// ValidText returns s with U+FFFD for every run of bytes that are not UTF-8. Good
// text is told at a tenth of the cost of strings.ToValidUTF8, which looks at one
// character at a time; output of megabytes feels that.
func ValidText(s string) string {
	if utf8.ValidString(s) {
		return s
	}
	return strings.ToValidUTF8(s, "\uFFFD")
}

// MeasureType is the MIME type under which a measurement stands in a bundle for
// programs to read: the JSON that the measure command writes, without the
// track.
const MeasureType = "application/vnd.rotorhum.measure+json"

// Sink receives what a cell shows while it runs, in order. Its methods may be
// called from any goroutine, one call at a time.
type Sink interface {
	// Stream appends text to the stream name, "stdout" or "stderr".
	Stream(name, text string)
	// Display shows b. An id other than "" lets Update replace it later.
	Display(b Bundle, id string)
	// Update replaces every display shown under id.
	Update(b Bundle, id string)
	// Clear removes what the cell has shown so far; wait delays the removal
	// until the next output arrives.
	Clear(wait bool)
	// Page asks the front end to show b in its pager; front ends without one
	// may ignore it.
	Page(b Bundle)
}

// Request is one cell to run.
type Request struct {
	// Name stands for the file name in positions, such as "In[3]".
	Name string
	// ID is the cell's id in its notebook, "" if it is unknown.
	ID string
	// Deleted are the ids of cells that have gone from the page since the last
	// request.
	Deleted []string
	// Code is the cell's source.
	Code string
	// Sink receives what the cell shows; it is never nil.
	Sink Sink
	// Input asks the person at the front end for one line. It is nil where
	// nobody can be asked. It returns an error when the cell is interrupted.
	Input func(prompt string, password bool) (string, error)
}

// Outcome is how a cell ended. At most one of Result and Fault is set.
type Outcome struct {
	// Result is the rendering of the cell's last expression, nil if the cell
	// ends in a statement or in an expression without a value to show.
	Result *Bundle
	// Fault is the error that ended the cell.
	Fault *Fault
}

// Fault is an error a pupil can act on.
type Fault struct {
	// Name is the kind: "CompileError", "Panic", "Error" or "Interrupted".
	Name string
	// Value is the message in one line, plain text.
	Value string
	// Traceback holds the lines to show, ANSI colours allowed: the message,
	// the source line with a caret, the call stack, a sentence of advice.
	Traceback []string
	// Line and Column are the 1-based position in the cell, 0 if unknown.
	Line, Column int
}

// Error returns the fault's name and value.
func (f *Fault) Error() string { return f.Name + ": " + f.Value }

// Completion is the answer to "what could follow here?".
type Completion struct {
	// Start and End delimit the bytes of the code that a match replaces.
	Start, End int
	Matches    []Match
}

// Match is one possible completion.
type Match struct {
	Text string
	// Kind is "function", "method", "field", "type", "variable", "constant",
	// "package" or "keyword".
	Kind string
	// Signature is the declaration in one line, or "".
	Signature string
}

// Runner is an interpreter that keeps its state from cell to cell. Run, Expr
// and the look-ups must be called from one goroutine; Interrupt from any.
type Runner interface {
	// Run runs one cell to its end.
	Run(Request) Outcome
	// Expr evaluates one expression and renders its value.
	Expr(code string) (Bundle, *Fault)
	// Complete lists what could stand at byte offset pos of code.
	Complete(code string, pos int) Completion
	// Inspect describes the name at byte offset pos of code; detail 1 asks for
	// more than detail 0. It reports false when there is nothing to say.
	Inspect(code string, pos, detail int) (Bundle, bool)
	// IsComplete says whether code is "complete", "incomplete" or "invalid",
	// and for incomplete code how the next line should be indented.
	IsComplete(code string) (status, indent string)
	// Interrupt stops the running cell as soon as it can; it does nothing when
	// no cell runs.
	Interrupt()
}
