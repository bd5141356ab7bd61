// Package interp runs cells of Go source: text in, values and text out. It
// keeps what a cell declares for the cells after it, captures what is printed,
// and turns every failure into a fault that points at the cell's line. It
// knows no Jupyter message.
//
// The same cells show the same, as far as the session can see to it: the global
// random functions start from its seed, a loop goes through a map in the order of
// its keys. What may differ from run to run all the same is said under the cell:
// the clock (when it is read), addresses (when they are shown), goroutines that
// print side by side (when they do), questions about the machine, distributions
// without a source of random numbers, maps whose keys have no order (as the text
// tells). Not seen are: which of several ready cases a select takes, the values
// that goroutines leave in variables they share, what compiled packages do behind
// their functions, and files that others change.
package interp

import (
	"context"
	"fmt"
	"go/ast"
	"go/types"
	"sync"
	"sync/atomic"
	"time"

	"github.com/cosmos72/gomacro/fast"
	xr "github.com/cosmos72/gomacro/xreflect"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/interp/typing"
	"rotorhum/kernel/provenance"
)

// DefaultMaxOutput is the number of bytes that one cell may print.
const DefaultMaxOutput = 8 << 20

// Options configure an interpreter; the zero value works.
type Options struct {
	// MaxOutput is the number of bytes a cell may print before the rest is
	// dropped with a note; 0 means DefaultMaxOutput.
	MaxOutput int
	// Docs finds the documentation of a name of a compiled package: "Name", or
	// "Type.Member" for a method or field. It may be nil.
	Docs func(path, name string) (signature, text string, ok bool)
	// Render renders values in ways that package show does not know; it reports false
	// for all others. The context ends when the cell is interrupted. It may be nil.
	Render func(ctx context.Context, v any) (b cell.Bundle, ok bool, err error)
	// Seed is what the cells' global random functions start from; 0 means
	// DefaultSeed.
	Seed uint64
	// Readers lists compiled functions whose first argument names a file that
	// they read, by import path, beyond those of the standard library. What
	// they read stands in the session's provenance.
	Readers map[string][]string
	// OnStart functions are called at the start of every cell with a context
	// that ends when the cell is interrupted or over, so that long compiled
	// functions can watch it.
	OnStart []func(context.Context)
	// OnInterrupt functions are called by Interrupt while a cell runs, on the
	// goroutine that called it.
	OnInterrupt []func()
}

// Interp is an interpreter session. It implements cell.Runner. All methods but
// Interrupt and Interrupted must be called on the goroutine that called New.
//
// A session owns os.Stdout and os.Stderr from New to Close.
type Interp struct {
	opt  Options
	ir   *fast.Interp
	lib  *library
	view *typing.Session
	cap  *capture

	hints   map[*ast.CallExpr]any     // what hidden calls of this cell need to know
	back    map[*types.Var]*backField // the fields declared as interface{}
	newBack []*backField              // those of the step being compiled
	faces   faces
	runOf   func() interface{} // of the goroutine that asks, see keep
	run     *fast.Run          // of the cells
	pool    boxPool
	convMu  sync.Mutex
	scopes  scopes
	texts   map[string]declaration
	atEnd   []func() // what the cell has deferred
	named   namedDisplays
	bars    int // progress bars shown so far

	origin provenance.Recorder
	random random

	variance variance
	unseeded map[string]bool // types of distributions that cells have made without a source

	hidden     hiddenState
	goroutines atomic.Int64 // that cells have started and that have not ended

	traceMu sync.Mutex
	trace   *panicTrace

	stop     stopper
	patience time.Duration
	req      *cell.Request // the running cell, nil between cells
	calls    int           // cells run so far
}

var _ cell.Runner = (*Interp)(nil)

// New starts an interpreter session.
func New(opt Options) (*Interp, error) {
	if opt.MaxOutput == 0 {
		opt.MaxOutput = DefaultMaxOutput
	}
	c, err := newCapture(opt.MaxOutput)
	if err != nil {
		return nil, err
	}
	in := &Interp{opt: opt, lib: newLibrary(), cap: c, back: map[*types.Var]*backField{}, patience: patience}
	in.texts = map[string]declaration{}
	in.faces.in, in.faces.m = in, map[xr.Key]*face{}
	in.unseeded = map[string]bool{}
	in.hidden = newHiddenState()
	in.stop.idle()
	if opt.Seed == 0 {
		in.opt.Seed = DefaultSeed
	}
	in.seedRandom(in.opt.Seed)
	in.ir = newEngine()
	in.view = typing.New(in.lib.fset)
	in.addBuiltins()
	in.makeRunOf()
	in.loadBoxes()
	if err := in.declareBase(); err != nil {
		return nil, err
	}
	return in, nil
}

// Close gives the standard streams back. The session cannot be used after it.
func (in *Interp) Close() {
	in.Interrupt()
	in.cap.close()
}

// Run runs one cell to its end.
func (in *Interp) Run(req cell.Request) cell.Outcome {
	if !in.cap.installed() {
		in.cap.install()
	}
	in.calls++
	if req.Name == "" {
		req.Name = fmt.Sprintf("cell %d", in.calls)
	}
	shown := req.Sink
	req.Sink = &watched{shown, in}
	in.req = &req
	in.variance.begin()
	in.cap.begin(req.Sink)
	in.named.reset()
	defer func() { in.req = nil }()
	src := newSource(req.Name, req.Code)
	seen := in.before(src)
	b, fault := in.eval(src)
	in.after(seen, &req, fault != nil)
	if b != nil {
		in.seenBundle(*b)
	}
	why := in.variance.end()
	warn(shown, why)
	in.origin.Ran(req.Name, req.ID, req.Code, fault != nil, why)
	return cell.Outcome{Result: b, Fault: fault}
}

// Expr evaluates one expression and renders its value.
func (in *Interp) Expr(code string) (cell.Bundle, *cell.Fault) {
	b, fault := in.eval(newSource("expression", code))
	if fault != nil || b == nil {
		return cell.Bundle{}, fault
	}
	return *b, nil
}
