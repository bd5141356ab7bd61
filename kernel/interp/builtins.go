package interp

import (
	"errors"
	"fmt"
	"go/ast"
	"go/types"
	"reflect"

	"github.com/cosmos72/gomacro/fast"
	xr "github.com/cosmos72/gomacro/xreflect"
)

// hidden begins the names that rewritten cells use and that no cell does.
const hidden = "ꟷ"

const (
	depthGuard = hidden + "enter"
	notePanic  = hidden + "trace"
	oneValue   = hidden + "one"
	boxValue   = hidden + "box"
	getBack    = hidden + "back"
	goPanicked = hidden + "gopanic"
	goStarts   = hidden + "gostarts"
	atCellEnd  = hidden + "defer"
	recovered  = hidden + "recovered"
	intToFloat = hidden + "float64"
	floatToInt = hidden + "int"
)

// maxDepth is the deepest nesting of interpreted calls.
const maxDepth = 20_000

var errTooDeep = fmt.Errorf("more than %d calls inside one another", maxDepth)

// compileHook compiles a call of a builtin.
type compileHook func(c *fast.Comp, call *ast.CallExpr) *fast.Call

func (in *Interp) builtin(name string, least, most uint16, f compileHook) {
	hook := func(c *fast.Comp, _ fast.Symbol, call *ast.CallExpr) *fast.Call { return f(c, call) }
	in.ir.Comp.TopComp().DeclBuiltin0(name, fast.Builtin{Compile: hook, ArgMin: least, ArgMax: most})
}

// constantFunc is the expression of a compiled function.
func constantFunc(t xr.Type, f any) *fast.Expr {
	v := xr.ValueOf(f)
	return &fast.Expr{Lit: fast.Lit{Type: t}, Fun: func(*fast.Env) xr.Value { return v }}
}

// plainFunc is a builtin that is an ordinary compiled function.
func plainFunc(f any) compileHook {
	return func(c *fast.Comp, call *ast.CallExpr) *fast.Call {
		t := c.TypeOf(f)
		out := &fast.Call{Fun: constantFunc(t, f), Args: c.Exprs(call.Args), OutTypes: []xr.Type{}}
		for i := range t.NumOut() {
			out.OutTypes = append(out.OutTypes, t.Out(i))
		}
		for i, a := range out.Args {
			a.To(c, t.In(i))
		}
		return out
	}
}

// anyFunc is a builtin that takes any number of values of any type.
func anyFunc(f func([]any)) compileHook {
	return func(c *fast.Comp, call *ast.CallExpr) *fast.Call {
		t := c.TypeOfInterface()
		out := &fast.Call{Args: c.Exprs(call.Args), OutTypes: []xr.Type{}}
		var in []xr.Type
		var rin []reflect.Type
		for _, a := range out.Args {
			a.To(c, t)
			in, rin = append(in, t), append(rin, reflect.TypeFor[any]())
		}
		fn := reflect.MakeFunc(reflect.FuncOf(rin, nil, false), func(vs []reflect.Value) []reflect.Value {
			var vals []any
			for _, v := range vs {
				vals = append(vals, v.Interface())
			}
			f(vals)
			return nil
		})
		out.Fun = constantFunc(c.Universe.FuncOf(in, nil, false), fn.Interface())
		return out
	}
}

// valueFunc is a builtin that maps its argument, of any type, to a value of
// type out(argument type).
func valueFunc(c *fast.Comp, arg *fast.Expr, out xr.Type, f func(reflect.Value) reflect.Value) *fast.Call {
	if arg.Const() {
		arg.ConstTo(arg.DefaultType())
	}
	in := arg.Type
	t := c.Universe.FuncOf([]xr.Type{in}, []xr.Type{out}, false)
	fn := reflect.MakeFunc(reflect.FuncOf([]reflect.Type{in.ReflectType()}, []reflect.Type{out.ReflectType()}, false),
		func(a []reflect.Value) []reflect.Value { return []reflect.Value{f(a[0])} })
	return &fast.Call{Fun: constantFunc(t, fn.Interface()), Args: []*fast.Expr{arg}, OutTypes: []xr.Type{out}}
}

// effect emits f as a statement where the call stands and leaves a constant
// that the engine drops.
func effect(c *fast.Comp, f func(env *fast.Env)) *fast.Call {
	if f != nil {
		c.Append(func(env *fast.Env) (fast.Stmt, *fast.Env) {
			f(env)
			env.IP++
			return env.Code[env.IP], env
		}, c.Pos)
	}
	ti := c.Universe.BasicTypes[reflect.Int]
	return &fast.Call{
		Fun:      constantFunc(c.Universe.FuncOf(nil, []xr.Type{ti}, false), func() int { return 0 }),
		OutTypes: []xr.Type{ti}, Const: true,
	}
}

func (in *Interp) addBuiltins() {
	in.builtin(depthGuard, 0, 0, func(c *fast.Comp, _ *ast.CallExpr) *fast.Call {
		return effect(c, func(env *fast.Env) {
			if env.CallDepth > maxDepth {
				panic(errTooDeep)
			}
		})
	})
	in.builtin(scopeMark, 0, 0, in.compileScope)
	in.builtin(notePanic, 0, 0, func(c *fast.Comp, _ *ast.CallExpr) *fast.Call {
		return effect(c, in.notePanic)
	})
	in.builtin(goPanicked, 1, 1, in.compileGoPanicked)
	in.builtin(goStarts, 0, 0, func(c *fast.Comp, _ *ast.CallExpr) *fast.Call {
		return effect(c, func(*fast.Env) { in.goroutines.Add(1) })
	})
	in.builtin(atCellEnd, 1, 1, plainFunc(func(f func()) { in.atEnd = append(in.atEnd, f) }))
	in.builtin(intToFloat, 1, 1, plainFunc(func(i int) float64 { return float64(i) }))
	in.builtin(makeRoom, 2, 2, plainFunc(checkRoom))
	in.builtin(floatToInt, 1, 1, plainFunc(func(f float64) int { return int(f) }))
	in.builtin(mapKeys, 1, 1, compileMapKeys)
	in.builtin(recovered, 1, 1, plainFunc(asGoPanic))
	in.builtin(oneValue, 1, 1, func(c *fast.Comp, call *ast.CallExpr) *fast.Call {
		a := c.Expr1(call.Args[0], nil)
		return valueFunc(c, a, a.Type, func(v reflect.Value) reflect.Value { return v })
	})
	in.builtin(getBack, 1, 1, in.compileGetBack)
	in.builtin(boxValue, 1, 1, in.compileBox)
	in.builtin("min", 1, 65535, func(c *fast.Comp, call *ast.CallExpr) *fast.Call { return compileExtreme(c, call, true) })
	in.builtin("max", 1, 65535, func(c *fast.Comp, call *ast.CallExpr) *fast.Call { return compileExtreme(c, call, false) })
	in.builtin("clear", 1, 1, compileClear)
	in.builtin("copy", 2, 2, compileCopy)
	in.builtin("must", 1, 16, compileMust)
	in.builtin("print", 0, 65535, anyFunc(func(a []any) { in.cap.write(in.cap.err, fmt.Append(nil, a...)) }))
	in.builtin("println", 0, 65535, anyFunc(func(a []any) { in.cap.write(in.cap.err, fmt.Appendln(nil, a...)) }))
	in.addPrinters()
	in.addBlocking()
	in.addDynamic()
	in.builtin(callGeneric, 1, 65535, in.compileGeneric)
	in.builtin(fillOptions, 1, 1, in.compileFillOptions)
	in.builtin(newOptions, 0, 0, in.compileNewOptions)
	in.builtin(stopCheck, 0, 0, in.compileStopCheck)
	in.addDisplay()
	in.addHidden()
	in.builtin("provenance", 0, 0, plainFunc(in.Provenance))
}

// isBase reports whether o is one of the kernel's own functions.
func (in *Interp) isBase(o types.Object) bool {
	return o != nil && in.view.Base()[o.Name()] == o
}

// compileGetBack gives the value of a field that was declared as interface{}
// its real type again.
func (in *Interp) compileGetBack(c *fast.Comp, call *ast.CallExpr) *fast.Call {
	b := in.hints[call].(*backField)
	t := b.real
	if t == nil {
		t = c.Type(b.typ)
	}
	rt := t.ReflectType()
	zero := reflect.Zero(rt)
	return valueFunc(c, c.Expr1(call.Args[0], nil), t, func(v reflect.Value) reflect.Value {
		if v.IsNil() {
			return zero
		}
		return v.Elem().Convert(rt)
	})
}

func compileClear(c *fast.Comp, call *ast.CallExpr) *fast.Call {
	a := c.Expr1(call.Args[0], nil)
	t := c.Universe.FuncOf([]xr.Type{a.Type}, nil, false)
	fn := reflect.MakeFunc(reflect.FuncOf([]reflect.Type{a.Type.ReflectType()}, nil, false), func(in []reflect.Value) []reflect.Value {
		in[0].Clear()
		return nil
	})
	return &fast.Call{Fun: constantFunc(t, fn.Interface()), Args: []*fast.Expr{a}, OutTypes: []xr.Type{}}
}

func compileCopy(c *fast.Comp, call *ast.CallExpr) *fast.Call {
	args := c.Exprs(call.Args)
	for _, a := range args {
		if a.Const() {
			a.ConstTo(a.DefaultType())
		}
	}
	ti := c.Universe.BasicTypes[reflect.Int]
	t := c.Universe.FuncOf([]xr.Type{args[0].Type, args[1].Type}, []xr.Type{ti}, false)
	in := []reflect.Type{args[0].Type.ReflectType(), args[1].Type.ReflectType()}
	fn := reflect.MakeFunc(reflect.FuncOf(in, []reflect.Type{reflect.TypeFor[int]()}, false), func(in []reflect.Value) []reflect.Value {
		return []reflect.Value{reflect.ValueOf(reflect.Copy(in[0], in[1]))}
	})
	return &fast.Call{Fun: constantFunc(t, fn.Interface()), Args: args, OutTypes: []xr.Type{ti}}
}

// failure is the panic of must: the cell fails with the error it was given.
type failure struct{ err error }

func (f *failure) Error() string { return f.err.Error() }
func (f *failure) Unwrap() error { return f.err }

// compileMust compiles must(value..., err): it gives the values, or fails the
// cell with the error if there is one.
func compileMust(c *fast.Comp, call *ast.CallExpr) *fast.Call {
	var args []*fast.Expr
	var ts []xr.Type
	if len(call.Args) == 1 {
		e := c.Expr(call.Args[0], nil)
		args = []*fast.Expr{e}
		for i := range e.NumOut() {
			ts = append(ts, e.Out(i))
		}
	} else {
		args = c.Exprs(call.Args)
		for _, a := range args {
			if a.Const() && a.Type != nil {
				a.ConstTo(a.DefaultType())
			}
			ts = append(ts, a.Type)
		}
	}
	n := len(ts) - 1
	terr := c.TypeOfError()
	if len(args) > 1 || n == 0 {
		args[len(args)-1].To(c, terr)
		ts[n] = terr
	}
	rin, rout := []reflect.Type{}, []reflect.Type{}
	for i, t := range ts {
		rin = append(rin, t.ReflectType())
		if i < n {
			rout = append(rout, t.ReflectType())
		}
	}
	fn := reflect.MakeFunc(reflect.FuncOf(rin, rout, false), func(in []reflect.Value) []reflect.Value {
		if e := in[n]; !e.IsNil() {
			err, ok := e.Interface().(error)
			if !ok {
				err = errors.New(fmt.Sprint(e.Interface()))
			}
			panic(&failure{err})
		}
		return in[:n]
	})
	t := c.Universe.FuncOf(ts, ts[:n], false)
	return &fast.Call{Fun: constantFunc(t, fn.Interface()), Args: args, OutTypes: ts[:n]}
}
