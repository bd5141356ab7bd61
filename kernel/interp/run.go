package interp

import (
	"go/ast"

	"github.com/cosmos72/gomacro/base"
	"github.com/cosmos72/gomacro/fast"
	xr "github.com/cosmos72/gomacro/xreflect"

	"rotorhum/kernel/cell"
)

// eval runs src and renders its value; all it printed has reached the sink
// when it returns.
func (in *Interp) eval(src *source) (b *cell.Bundle, fault *cell.Fault) {
	ctx := in.stop.begin()
	in.traceMu.Lock()
	in.trace = nil
	in.traceMu.Unlock()
	defer func() {
		if r := recover(); r != nil {
			b, fault = nil, in.internalFault(r)
		}
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
		if in.hidden.ran(st.Step) {
			in.faces.lookAgain()
		}
		in.rememberText(src, st.Nodes)
	}
	return end, nil
}

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
	in.run = run
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
