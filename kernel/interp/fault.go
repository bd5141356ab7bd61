package interp

import (
	"fmt"
	"go/ast"
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

// trouble is what a fault is made of.
type trouble struct {
	name, msg string
	at        place
	stack     []string // the calls, rendered
	values    string   // of the variables in the line
	advice    string
}

func (in *Interp) syntaxFault(e *syntaxError) *cell.Fault {
	c := &clue{in: in, at: e.at}
	return trouble{name: compileErrorName, msg: e.msg, at: e.at, advice: adviseOn(syntaxRules, c, e.msg)}.fault()
}

// checkFault reports what go/types found in nodes.
func (in *Interp) checkFault(errs []typing.Error, nodes []ast.Node) *cell.Fault {
	f := in.compileFault(in.lib.place(errs[0].Pos), errs[0].Msg, nodes)
	if n := len(errs) - 1; n > 0 {
		more := fmt.Sprintf("(and %d more errors in this cell)", n)
		if n == 1 {
			more = "(and one more error in this cell)"
		}
		f.Traceback = append(f.Traceback, more)
	}
	return f
}

func (in *Interp) compileFault(at place, msg string, nodes []ast.Node) *cell.Fault {
	c := &clue{in: in, at: at, declared: namesIn(nodes)}
	return trouble{name: compileErrorName, msg: msg, at: at, advice: adviseOn(compileRules, c, msg)}.fault()
}

// engineFault reports a cell that is good Go but more than the engine can run.
func (in *Interp) engineFault(at place, msg string) *cell.Fault {
	return trouble{
		name: compileErrorName, msg: "cells cannot run this, though it is good Go: " + msg, at: at,
		advice: "Write it in another way.",
	}.fault()
}

// internalFault reports a mistake of the kernel's own.
func (in *Interp) internalFault(v any) *cell.Fault {
	return trouble{
		name: compileErrorName, msg: fmt.Sprintf("the kernel failed to understand this cell: %v", v),
		advice: "Write it in another way, and please report it with the cell.",
	}.fault()
}

// errorFault reports the error that a cell ended in.
func (in *Interp) errorFault(err error, at place) *cell.Fault {
	return trouble{name: errorName, msg: err.Error(), at: at}.fault()
}

// panicFault reports a panic.
func (in *Interp) panicFault(v any, stack []frame) *cell.Fault {
	v = asGoPanic(v)
	at, lines := in.stackLines(stack)
	t := trouble{name: panicName, at: at, stack: lines}
	switch v := v.(type) {
	case *failure:
		t.name, t.msg = errorName, v.Error()
		return t.fault()
	case error:
		t.msg = v.Error()
	case fmt.Stringer:
		t.msg = v.String()
	default:
		t.msg = fmt.Sprint(v)
	}
	c := &clue{in: in, at: at, autopsy: in.safeExamine(stack)}
	t.advice = adviseOn(runRules, c, t.msg)
	if c.autopsy != nil {
		t.values = c.autopsy.values()
	}
	return t.fault()
}

// safeExamine is examine, which must not make a failure worse.
func (in *Interp) safeExamine(stack []frame) (a *autopsy) {
	defer func() {
		if recover() != nil {
			a = nil
		}
	}()
	return in.examine(stack)
}

func (in *Interp) interruptedFault(stack []frame) *cell.Fault {
	at, lines := in.stackLines(stack)
	return trouble{name: interruptedName, msg: "the cell was interrupted; what it had computed so far is kept", at: at, stack: lines}.fault()
}

// sameLines is how often a line of the call stack is repeated before the
// repetition is told instead of shown.
const sameLines = 3

// stackLines renders a call stack and returns the innermost known place.
func (in *Interp) stackLines(stack []frame) (at place, lines []string) {
	repeated := 0
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
		line := fmt.Sprintf("  %s, %s line %d: %s", name, p.src.name, p.line, strings.TrimSpace(p.src.line(p.line)))
		if n := len(lines); n >= sameLines && lines[n-1] == line {
			repeated++
			continue
		}
		if repeated > 0 {
			lines = append(lines, "  … and so on …")
			repeated = 0
		}
		lines = append(lines, line)
	}
	if len(stack) == maxFrames {
		lines = append(lines, "  …")
	}
	if len(lines) < 2 {
		return at, nil // the quoted line says it already
	}
	return at, lines
}

// fault lays out a fault: message, quoted line with a caret, call stack,
// values, advice.
func (t trouble) fault() *cell.Fault {
	msg := cell.ValidText(t.msg)
	f := &cell.Fault{Name: t.name, Value: oneLine(msg), Line: t.at.line, Column: t.at.col}
	head := red + bold + t.name + normal + ": " + msg
	f.Traceback = append(f.Traceback, strings.Split(head, "\n")...)
	if t.at.known() {
		line := t.at.src.line(t.at.line)
		f.Traceback = append(f.Traceback,
			fmt.Sprintf("%s%s, line %d%s", cyan, t.at.src.name, t.at.line, normal),
			"    "+strings.ReplaceAll(line, "\t", "    "),
			"    "+caret(line, t.at.col))
	}
	if len(t.stack) > 0 {
		f.Traceback = append(f.Traceback, "Calls, innermost first:")
		f.Traceback = append(f.Traceback, t.stack...)
	}
	if t.values != "" {
		f.Traceback = append(f.Traceback, "Values: "+t.values)
	}
	if t.advice != "" {
		f.Traceback = append(f.Traceback, bold+"Advice: "+normal+t.advice)
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
