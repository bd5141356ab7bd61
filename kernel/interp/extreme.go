package interp

import (
	"go/ast"
	"reflect"

	"github.com/cosmos72/gomacro/fast"
	xr "github.com/cosmos72/gomacro/xreflect"
)

// compileExtreme compiles min and max. The arguments have been checked: they
// are ordered and, constants aside, of one type.
func compileExtreme(c *fast.Comp, call *ast.CallExpr, least bool) *fast.Call {
	args := c.Exprs(call.Args)
	var t xr.Type
	for _, a := range args {
		if !a.Untyped() {
			t = a.Type
			break
		}
		// among untyped constants the widest kind wins: int, rune, float
		if d := a.DefaultType(); t == nil || d.Kind() == reflect.Float64 ||
			t.Kind() == reflect.Int && d.Kind() == reflect.Int32 {
			t = d
		}
	}
	in := make([]xr.Type, len(args))
	rin := make([]reflect.Type, len(args))
	for i, a := range args {
		if a.Const() {
			a.ConstTo(t)
		}
		in[i], rin[i] = t, t.ReflectType()
	}
	var f any
	switch rt := t.ReflectType(); {
	case len(args) == 2 && rt == reflect.TypeFor[float64]() && least:
		f = func(a, b float64) float64 { return min(a, b) }
	case len(args) == 2 && rt == reflect.TypeFor[float64]():
		f = func(a, b float64) float64 { return max(a, b) }
	case len(args) == 2 && rt == reflect.TypeFor[int]() && least:
		f = func(a, b int) int { return min(a, b) }
	case len(args) == 2 && rt == reflect.TypeFor[int]():
		f = func(a, b int) int { return max(a, b) }
	default:
		f = reflect.MakeFunc(reflect.FuncOf(rin, []reflect.Type{rt}, false), func(vs []reflect.Value) []reflect.Value {
			m := vs[0]
			for _, v := range vs[1:] {
				m = extreme(m, v, least)
			}
			return []reflect.Value{m}
		}).Interface()
	}
	return &fast.Call{Fun: constantFunc(c.Universe.FuncOf(in, []xr.Type{t}, false), f), Args: args, OutTypes: []xr.Type{t}}
}

// extreme returns the smaller or the larger of two values of one kind.
func extreme(a, b reflect.Value, least bool) reflect.Value {
	var less bool // b < a
	switch {
	case a.CanFloat():
		x, y := a.Float(), b.Float()
		m := max(x, y)
		if least {
			m = min(x, y)
		}
		return reflect.ValueOf(m).Convert(a.Type())
	case a.CanInt():
		less = b.Int() < a.Int()
	case a.CanUint():
		less = b.Uint() < a.Uint()
	default:
		less = b.String() < a.String()
	}
	if less == least {
		return b
	}
	return a
}
