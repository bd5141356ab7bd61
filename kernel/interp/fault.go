package interp

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/interp/typing"
)

// Names of faults.
const (
	compileErrorName = "CompileError"
	panicName        = "Panic"
	errorName        = "Error"
	interruptedName  = "Interrupted"
)

// ANSI colours of a traceback.
const (
	red    = "\x1b[31m"
	bold   = "\x1b[1m"
	cyan   = "\x1b[36m"
	normal = "\x1b[0m"
)

func (in *Interp) syntaxFault(e *syntaxError) *cell.Fault {
	return newFault(compileErrorName, e.msg, e.at, nil, "")
}

// checkFault reports what go/types found.
func (in *Interp) checkFault(errs []typing.Error) *cell.Fault {
	return in.compileFault(in.lib.place(errs[0].Pos), errs[0].Msg)
}

// engineFault reports a cell that is good Go but more than the engine can run.
func (in *Interp) engineFault(at place, msg string) *cell.Fault {
	return newFault(compileErrorName, "this interpreter cannot run this: "+msg, at, nil, "")
}

func (in *Interp) compileFault(at place, msg string) *cell.Fault {
	return newFault(compileErrorName, msg, at, nil, "")
}

// errorFault reports the error that a cell ended in.
func (in *Interp) errorFault(err error, at place) *cell.Fault {
	return newFault(errorName, err.Error(), at, nil, "")
}

func (in *Interp) panicFault(v any, stack []frame) *cell.Fault {
	msg := ""
	switch v := v.(type) {
	case error:
		msg = v.Error()
	case fmt.Stringer:
		msg = v.String()
	default:
		msg = fmt.Sprint(v)
	}
	at, lines := in.stackLines(stack)
	return newFault(panicName, msg, at, lines, "")
}

func (in *Interp) interruptedFault(stack []frame) *cell.Fault {
	at, lines := in.stackLines(stack)
	return newFault(interruptedName, "the cell was interrupted; what it had computed so far is kept", at, lines, "")
}

// stackLines renders a call stack and returns the innermost known place.
func (in *Interp) stackLines(stack []frame) (at place, lines []string) {
	for _, f := range stack {
		p := in.lib.place(f.pos)
		if !p.known() {
			continue
		}
		if !at.known() {
			at = p
		}
		name := f.fn
		if name == "" {
			name = "the cell"
		}
		lines = append(lines, fmt.Sprintf("  %s, %s line %d: %s", name, p.src.name, p.line, strings.TrimSpace(p.src.line(p.line))))
	}
	if len(lines) < 2 {
		return at, nil // the quoted line says it already
	}
	return at, lines
}

// newFault lays out a fault: message, quoted line with a caret, call stack,
// advice.
func newFault(name, msg string, at place, stack []string, advice string) *cell.Fault {
	msg = strings.ToValidUTF8(msg, "\uFFFD")
	f := &cell.Fault{Name: name, Value: oneLine(msg), Line: at.line, Column: at.col}
	head := red + bold + name + normal + ": " + msg
	f.Traceback = append(f.Traceback, strings.Split(head, "\n")...)
	if at.known() {
		line := at.src.line(at.line)
		f.Traceback = append(f.Traceback,
			fmt.Sprintf("%s%s, line %d%s", cyan, at.src.name, at.line, normal),
			"    "+strings.ReplaceAll(line, "\t", "    "),
			"    "+caret(line, at.col))
	}
	if len(stack) > 0 {
		f.Traceback = append(f.Traceback, "Calls, innermost first:")
		f.Traceback = append(f.Traceback, stack...)
	}
	if advice != "" {
		f.Traceback = append(f.Traceback, bold+"Advice: "+normal+advice)
	}
	return f
}

// caret is a line with a ^ under column col of line.
func caret(line string, col int) string {
	if col < 1 {
		return ""
	}
	before := line
	if col-1 < len(line) {
		before = line[:col-1]
	}
	before = strings.ReplaceAll(before, "\t", "    ")
	return strings.Repeat(" ", utf8.RuneCountInString(before)) + red + "^" + normal
}

func oneLine(s string) string {
	return strings.Join(strings.Fields(s), " ")
}
