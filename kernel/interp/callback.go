package interp

import (
	"go/ast"
	"go/token"
	"reflect"

	"github.com/cosmos72/gomacro/fast"
	xr "github.com/cosmos72/gomacro/xreflect"
)

// Compiled code calls a cell's functions back: fmt calls String, for one. Where
// it recovers from their panics, as fmt does, the engine does not notice: it
// still believes to be inside the function that panicked, and counts the calls
// inside one another from there. keep makes it forget.

const thisRun = hidden + "run"

// makeRunOf compiles the function by which the engine tells the state of the
// goroutine that calls it.
func (in *Interp) makeRunOf() {
	any := in.ir.Comp.TypeOfInterface()
	in.builtin(thisRun, 0, 0, func(c *fast.Comp, _ *ast.CallExpr) *fast.Call {
		return &fast.Call{
			Fun: &fast.Expr{
				Lit: fast.Lit{Type: c.Universe.FuncOf(nil, []xr.Type{any}, false)},
				Fun: func(env *fast.Env) xr.Value {
					run := env.Run
					return xr.ValueOf(func() interface{} { return run })
				},
			},
			OutTypes: []xr.Type{any},
		}
	})
	anything := &ast.Field{Type: &ast.InterfaceType{Methods: &ast.FieldList{}}}
	f := closure(token.NoPos, &ast.ReturnStmt{Results: []ast.Expr{callAt(token.NoPos, thisRun)}})
	f.Type.Results = &ast.FieldList{List: []*ast.Field{anything}}
	v, _ := compile(in.ir, &ast.ExprStmt{X: f}).run(in.ir.PrepareEnv())
	in.runOf = v[0].ReflectValue().Interface().(func() interface{})
}

// keep returns a function that puts the engine's view of this goroutine back to
// what it is now.
func (in *Interp) keep() (restore func()) {
	run := in.runOf().(*fast.Run)
	env, flags, interrupt := run.CurrEnv, run.ExecFlags, run.Interrupt
	deferring, panicking, panicked := run.DeferOfFun, run.PanicFun, run.Panic
	return func() {
		run.CurrEnv, run.ExecFlags, run.Interrupt = env, flags, interrupt
		run.DeferOfFun, run.PanicFun, run.Panic = deferring, panicking, panicked
		if in.Interrupted() {
			in.ir.Interrupt(nil) // whoever recovered has swallowed the request
		}
	}
}

// callBack calls a method without arguments of a cell's type on v. A panic of it
// leaves the engine as it was.
func (in *Interp) callBack(m *xr.Method, v reflect.Value) []reflect.Value {
	restore, done := in.keep(), false
	defer func() {
		if !done {
			restore()
		}
	}()
	out := callMethod(m, v)
	done = true
	return out
}
