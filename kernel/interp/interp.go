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
	"go/types"
	"reflect"
	"sync"
	"sync/atomic"
	"time"

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
	// Docs finds the documentation of a name of a compiled package: "Name", or
	// "Type.Member" for a method or field. It may be nil.
	Docs func(path, name string) (signature, text string, ok bool)
	// Render renders values in ways that package show does not know; it reports
	// false for all others. It may be nil.
	Render func(v any) (b cell.Bundle, ok bool, err error)
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
	pool    boxPool
	convMu  sync.Mutex
	scopes  scopes
	texts   map[string]declaration
	atEnd   []func() // what the cell has deferred
	named   namedDisplays
	bars    int // progress bars shown so far

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
	in.faces.m = map[xr.Key]*face{}
	in.stop.idle()
	in.ir = newEngine()
	in.view = typing.New(in.lib.fset)
	in.addBuiltins()
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

// stopper is the state that Interrupt, called from any goroutine, shares with
// the running cell.
type stopper struct {
	mu      sync.Mutex
	running bool
	asked   atomic.Bool // since the cell started
	fault   *cell.Fault // of a goroutine, ends the cell
	ctx     context.Context
	cancel  context.CancelFunc
	signal  chan struct{} // closed by an interrupt
	cells   int           // how many have run
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
	s.fault = nil
	s.signal = make(chan struct{})
	s.cells++
	s.ctx, s.cancel = context.WithCancel(context.Background())
	return s.ctx
}

func (s *stopper) end() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.running = false
	s.cancel()
}

// raise wakes everything that waits in the running cell. The lock is held.
func (s *stopper) raise() {
	if s.ctx.Err() == nil {
		close(s.signal)
	}
	s.cancel()
}

// goroutineFault returns the fault of a goroutine that ended the cell, or nil.
func (s *stopper) goroutineFault() *cell.Fault {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.fault
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
	if !s.asked.Swap(true) {
		in.expectEnd(s.cells)
	}
	s.raise()
	in.ir.Interrupt(nil)
	for _, f := range in.opt.OnInterrupt {
		f()
	}
}

// patience is how long an interrupted cell may go on before it is said why.
const patience = 2 * time.Second

// expectEnd tells the person waiting when the n-th cell goes on in spite of an
// interrupt.
func (in *Interp) expectEnd(n int) {
	time.AfterFunc(in.patience, func() {
		in.stop.mu.Lock()
		still := in.stop.running && in.stop.cells == n
		in.stop.mu.Unlock()
		if still {
			in.cap.write(in.cap.err, []byte("[a compiled function is running, which cannot be interrupted; if it does not end by itself, restart the kernel]\n"))
		}
	})
}

// Interrupted reports whether the running cell has been asked to stop.
func (in *Interp) Interrupted() bool { return in.stop.asked.Load() }

// errInterrupted is the panic value with which compiled helpers leave an
// interrupted cell.
var errInterrupted = errors.New("interrupted")

// Run runs one cell to its end.
func (in *Interp) Run(req cell.Request) cell.Outcome {
	if !in.cap.installed() {
		in.cap.install()
	}
	in.calls++
	if req.Name == "" {
		req.Name = fmt.Sprintf("cell %d", in.calls)
	}
	in.req = &req
	in.cap.begin(req.Sink)
	in.named.reset()
	defer func() { in.req = nil }()
	b, fault := in.eval(newSource(req.Name, req.Code))
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

// eval runs src and renders its value; all it printed has reached the sink
// when it returns.
func (in *Interp) eval(src *source) (b *cell.Bundle, fault *cell.Fault) {
	ctx := in.stop.begin()
	defer func() {
		in.cap.flush()
		in.stop.end()
	}()
	for _, f := range in.opt.OnStart {
		f(ctx)
	}
	e, fault := in.exec(src)
	if fault == nil {
		b, fault = in.result(e)
	}
	if f := in.stop.goroutineFault(); f != nil {
		return nil, f
	}
	if in.stop.asked.Load() && (fault == nil || fault.Name != interruptedName) {
		fault = in.interruptedFault(nil) // whatever became of it
	}
	if fault != nil {
		return nil, fault
	}
	return b, nil
}

// exec parses, checks, compiles and runs src and returns the values of its
// last expression.
func (in *Interp) exec(src *source) (end *ending, fault *cell.Fault) {
	sc, err := in.lib.parse(src)
	if err != nil {
		return nil, in.syntaxFault(err.(*syntaxError))
	}
	for _, n := range sc.nodes {
		for _, s := range importsOf(n) {
			path, err := checkImport(s)
			if err == nil {
				err = in.load(path)
			}
			if err != nil {
				return nil, in.compileFault(in.lib.place(s.Pos()), err.Error(), sc.nodes)
			}
		}
	}
	checked, errs := in.view.Check(sc.nodes)
	if len(errs) > 0 {
		return nil, in.checkFault(errs, sc.nodes)
	}
	end = in.endOf(sc, checked)
	before := remember(in.ir.Comp)
	steps, fault := in.compile(checked)
	if fault != nil {
		before.restore(in.ir.Comp)
		return nil, fault
	}
	defer in.runDeferred(&fault)
	for i, st := range steps {
		for _, u := range st.units {
			vals, types, fault := in.runUnit(u)
			if fault != nil {
				for _, st := range steps[i:] {
					for name := range st.Defines {
						before.forget(in.ir.Comp, name)
					}
				}
				return nil, fault
			}
			if end.expr != nil && u.node == sc.nodes[len(sc.nodes)-1] {
				end.take(vals, types, checked.Info.TypeOf(end.expr))
			}
		}
		in.view.Commit(st.Step)
		in.rememberText(src, st.Nodes)
	}
	return end, nil
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
	in.loadStandIns()
	in.hints = map[*ast.CallExpr]any{}
	r := in.newRewriter(c.Info)
	for _, st := range c.Steps {
		in.makeRoom(st)
		steps = append(steps, step{st, in.compileStep(r, st)})
	}
	return steps, nil
}

// loadStandIns makes the types of cells fit the interfaces of packages that no
// cell has imported but whose functions want them, such as io.Writer.
func (in *Interp) loadStandIns() {
	if !in.view.HasMethods() {
		return
	}
	for _, path := range in.view.InterfacePackages() {
		if in.ir.Comp.KnownImports[path] == nil {
			in.load(path)
		}
	}
}

// load makes a registered package known to the engine.
func (in *Interp) load(path string) error {
	if err := in.declareGeneric(path); err != nil {
		return err
	}
	if in.ir.Comp.KnownImports[path] != nil {
		return nil
	}
	if _, err := in.ir.Comp.ImportPackagesOrError(map[string]fast.PackageName{path: "_"}); err != nil {
		return err
	}
	in.adapt(path)
	return nil
}

// makeRoom frees the names that st declares with another type than they have
// now. The engine would put the new variable into the place of the old one,
// under the feet of the functions that use it.
func (in *Interp) makeRoom(st *typing.Step) {
	for name, o := range st.Defines {
		if old := in.view.Live()[name]; old == nil || !typing.SameKind(old, o) {
			delete(in.ir.Comp.Binds, name)
			delete(in.ir.Comp.Types, name)
		}
	}
}

// compileStep compiles the nodes of one step. Functions and methods are
// announced to the engine before their bodies, so that they may call one
// another.
func (in *Interp) compileStep(r *rewriter, st *typing.Step) (units []unit) {
	var decls []ast.Node
	var funcs []*ast.FuncDecl
	in.newBack = nil
	for _, n := range st.Nodes {
		switch n := r.node(n).(type) {
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
		for _, n := range decls {
			in.settleTypes(n)
		}
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

// settleTypes completes what the engine knows of the types that n declares.
func (in *Interp) settleTypes(n ast.Node) {
	d, ok := n.(*ast.GenDecl)
	if !ok || d.Tok != token.TYPE {
		return
	}
	for _, sp := range d.Specs {
		t := in.ir.Comp.Types[sp.(*ast.TypeSpec).Name.Name]
		if t == nil || !t.Named() || t.PkgPath() != in.ir.Comp.Path {
			continue
		}
		// The engine loses methods when it makes room for more of them.
		if m := t.GetMethods(); cap(*m) < roomForMethods {
			*m = append(make([]reflect.Value, 0, roomForMethods), *m...)
		}
	}
	for _, b := range in.newBack {
		b.real = in.ir.Comp.Type(b.typ)
	}
}

// roomForMethods is more methods than a type in a cell will have.
const roomForMethods = 256

// runDeferred runs what the cell has deferred at its top level, last first.
func (in *Interp) runDeferred(fault **cell.Fault) {
	for len(in.atEnd) > 0 {
		f := in.atEnd[len(in.atEnd)-1]
		in.atEnd = in.atEnd[:len(in.atEnd)-1]
		if _, _, bad := in.runFunc(nil, func(*fast.Env) ([]xr.Value, []xr.Type) { f(); return nil, nil }); bad != nil && *fault == nil {
			*fault = bad
		}
	}
}

// runUnit executes one unit; a panic becomes a fault.
func (in *Interp) runUnit(u unit) (vals []xr.Value, types []xr.Type, fault *cell.Fault) {
	if in.stop.asked.Load() {
		return nil, nil, in.interruptedFault(nil)
	}
	return in.runFunc(u.node, u.run)
}

// runFunc runs interpreted code that stands in top-level node n.
func (in *Interp) runFunc(n ast.Node, f func(*fast.Env) ([]xr.Value, []xr.Type)) (vals []xr.Value, types []xr.Type, fault *cell.Fault) {
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
		stack := in.noted(r)
		if stack == nil {
			stack = callStack(run.CurrEnv)
		}
		quiesce(run)
		if k := len(stack); k > 0 && n != nil && !in.inside(n, stack[k-1]) {
			stack[k-1].pos = n.Pos()
		}
		vals, types = nil, nil
		if r == base.SigInterrupt || r == errInterrupted || in.stop.asked.Load() {
			fault = in.interruptedFault(stack)
		} else {
			fault = in.panicFault(r, stack)
		}
	}()
	vals, types = f(env)
	return vals, types, nil
}

// inside reports whether a frame's position lies within node n.
func (in *Interp) inside(n ast.Node, f frame) bool {
	return f.pos.IsValid() && f.pos >= n.Pos() && f.pos <= n.End()
}
