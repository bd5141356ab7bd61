// Package interp runs cells of Go source: text in, values and text out. It
// keeps what a cell declares for the cells after it, captures what is printed,
// and turns every failure into a fault that points at the cell's line. It
// knows no Jupyter message.
package interp

import (
	"context"
	"errors"
	"fmt"
	"go/ast"
	"go/token"
	"sync"
	"sync/atomic"

	"github.com/cosmos72/gomacro/base"
	"github.com/cosmos72/gomacro/fast"
	xr "github.com/cosmos72/gomacro/xreflect"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/interp/typing"
)

// DefaultMaxOutput is the number of bytes that one cell may print.
const DefaultMaxOutput = 8 << 20

// Options configure an interpreter; the zero value works.
type Options struct {
	// MaxOutput is the number of bytes a cell may print before the rest is
	// dropped with a note; 0 means DefaultMaxOutput.
	MaxOutput int
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

	stop  stopper
	req   *cell.Request // the running cell, nil between cells
	calls int           // cells run so far
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
	in := &Interp{opt: opt, lib: newLibrary(), cap: c}
	in.stop.idle()
	in.ir = newEngine()
	in.view = typing.New(in.lib.fset)
	in.addBuiltins()
	return in, nil
}

// Close gives the standard streams back. The session cannot be used after it.
func (in *Interp) Close() {
	in.Interrupt()
	in.cap.close()
}

// stopper is the state that Interrupt, called from any goroutine, shares with
// the running cell.
type stopper struct {
	mu      sync.Mutex
	running bool
	asked   atomic.Bool // since the cell started
	ctx     context.Context
	cancel  context.CancelFunc
}

func (s *stopper) idle() {
	s.ctx, s.cancel = context.WithCancel(context.Background())
	s.cancel()
}

func (s *stopper) begin() context.Context {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.running = true
	s.asked.Store(false)
	s.ctx, s.cancel = context.WithCancel(context.Background())
	return s.ctx
}

func (s *stopper) end() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.running = false
	s.cancel()
}

// Interrupt stops the running cell as soon as it can: at once in interpreted
// code and in time.Sleep, and at the next look in compiled functions that
// watch the cell's context. It does nothing when no cell runs.
func (in *Interp) Interrupt() {
	s := &in.stop
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.running {
		return
	}
	s.asked.Store(true)
	s.cancel()
	in.ir.Interrupt(nil)
	for _, f := range in.opt.OnInterrupt {
		f()
	}
}

// Interrupted reports whether the running cell has been asked to stop.
func (in *Interp) Interrupted() bool { return in.stop.asked.Load() }

// errInterrupted is the panic value with which compiled helpers leave an
// interrupted cell.
var errInterrupted = errors.New("interrupted")

// Run runs one cell to its end.
func (in *Interp) Run(req cell.Request) (out cell.Outcome) {
	if !in.cap.installed() {
		in.cap.install()
	}
	in.calls++
	if req.Name == "" {
		req.Name = fmt.Sprintf("cell %d", in.calls)
	}
	in.req = &req
	in.cap.begin(req.Sink)
	ctx := in.stop.begin()
	defer func() {
		in.stop.end()
		in.cap.flush()
		in.req = nil
	}()
	for _, f := range in.opt.OnStart {
		f(ctx)
	}
	src := newSource(req.Name, req.Code)
	vals, types, fault := in.exec(src)
	if fault == nil && in.stop.asked.Load() {
		fault = in.interruptedFault(nil)
	}
	if fault != nil {
		return cell.Outcome{Fault: fault}
	}
	b, fault := in.result(src, vals, types)
	return cell.Outcome{Result: b, Fault: fault}
}

// exec parses, checks, compiles and runs src and returns the values of its
// last expression.
func (in *Interp) exec(src *source) (vals []xr.Value, types []xr.Type, fault *cell.Fault) {
	sc, err := in.lib.parse(src)
	if err != nil {
		return nil, nil, in.syntaxFault(err.(*syntaxError))
	}
	for _, n := range sc.nodes {
		for _, s := range importsOf(n) {
			if err := checkImport(s); err != nil {
				return nil, nil, in.compileFault(in.lib.place(s.Pos()), err.Error())
			}
		}
	}
	checked, errs := in.view.Check(sc.nodes)
	if len(errs) > 0 {
		return nil, nil, in.checkFault(errs)
	}
	before := remember(in.ir.Comp)
	steps, fault := in.compile(checked)
	if fault != nil {
		before.restore(in.ir.Comp)
		return nil, nil, fault
	}
	for i, st := range steps {
		for _, u := range st.units {
			vals, types, fault = in.runUnit(u)
			if fault != nil {
				for _, st := range steps[i:] {
					for name := range st.Defines {
						before.forget(in.ir.Comp, name)
					}
				}
				return nil, nil, fault
			}
		}
		in.view.Commit(st.Step)
	}
	if !sc.showsValue() {
		return nil, nil, nil
	}
	return vals, types, nil
}

// showsValue reports whether the cell ends in an expression to show.
func (sc *script) showsValue() bool {
	if len(sc.nodes) == 0 || sc.quiet {
		return false
	}
	_, ok := sc.nodes[len(sc.nodes)-1].(*ast.ExprStmt)
	return ok
}

// step is a checked part of a cell, compiled.
type step struct {
	*typing.Step
	units []unit
}

func (in *Interp) compile(c *typing.Cell) (steps []step, fault *cell.Fault) {
	defer func() {
		if r := recover(); r != nil {
			e, ok := r.(*compileError)
			if !ok {
				panic(r)
			}
			steps, fault = nil, in.engineFault(in.lib.place(e.pos), e.msg)
		}
	}()
	for _, st := range c.Steps {
		in.makeRoom(st)
		steps = append(steps, step{st, in.compileStep(st)})
	}
	return steps, nil
}

// makeRoom frees the names that st declares with another type than they have
// now. The engine would put the new variable into the place of the old one,
// under the feet of the functions that use it.
func (in *Interp) makeRoom(st *typing.Step) {
	for name, o := range st.Defines {
		if old := in.view.Live()[name]; old == nil || !typing.SameKind(old, o) {
			delete(in.ir.Comp.Binds, name)
		}
	}
}

// compileStep compiles the nodes of one step. Functions and methods are
// announced to the engine before their bodies, so that they may call one
// another.
func (in *Interp) compileStep(st *typing.Step) (units []unit) {
	var decls []ast.Node
	var funcs []*ast.FuncDecl
	for _, n := range st.Nodes {
		rewrite(n)
		switch n := n.(type) {
		case *ast.FuncDecl:
			funcs = append(funcs, n)
		case *ast.GenDecl:
			if n.Tok == token.TYPE || n.Tok == token.CONST {
				decls = append(decls, n)
				continue
			}
			units = append(units, compile(in.ir, n))
		default:
			units = append(units, compile(in.ir, n))
		}
	}
	if len(decls) > 0 {
		units = append(units, compile(in.ir, decls...))
	}
	if len(funcs) > 1 {
		for _, f := range funcs {
			head := *f
			head.Body = nil
			compile(in.ir, &head)
		}
	}
	for _, f := range funcs {
		units = append(units, compile(in.ir, f))
	}
	return units
}

// runUnit executes one unit; a panic becomes a fault.
func (in *Interp) runUnit(u unit) (vals []xr.Value, types []xr.Type, fault *cell.Fault) {
	if in.stop.asked.Load() {
		return nil, nil, in.interruptedFault(nil)
	}
	env := in.ir.PrepareEnv()
	run := env.Run
	if in.stop.asked.Load() {
		in.ir.Interrupt(nil) // PrepareEnv dropped the request
	}
	run.CurrEnv = env
	env.DebugPos = nil
	defer func() {
		r := recover()
		if r == nil {
			quiesce(run)
			return
		}
		stack := callStack(run.CurrEnv)
		quiesce(run)
		if n := len(stack); n > 0 && u.node != nil && !in.inside(u.node, stack[n-1]) {
			stack[n-1].pos = u.node.Pos()
		}
		vals, types = nil, nil
		if r == base.SigInterrupt || r == errInterrupted || in.stop.asked.Load() {
			fault = in.interruptedFault(stack)
		} else {
			fault = in.panicFault(r, stack)
		}
	}()
	vals, types = u.run(env)
	return vals, types, nil
}

// inside reports whether a frame's position lies within node n.
func (in *Interp) inside(n ast.Node, f frame) bool {
	return f.pos.IsValid() && f.pos >= n.Pos() && f.pos <= n.End()
}
