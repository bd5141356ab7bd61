package interp

import (
	"errors"
	"fmt"
	"go/ast"
	"reflect"
	"runtime"
	"sync"
	"weak"

	"github.com/cosmos72/gomacro/fast"
	xr "github.com/cosmos72/gomacro/xreflect"
)

// What an interface holds has a type, and the engine forgets it for the types
// that cells declare. So cells put such values into interfaces in boxes, and
// everything that asks an interface what it holds asks here.

const (
	toInterface = hidden + "iface"
	toError     = hidden + "err"
	fromBox     = hidden + "unbox"
	equal       = hidden + "eq"
	holds       = hidden + "is"
	taken       = hidden + "as"
	takenOK     = hidden + "asok"
	errorsAs    = hidden + "errorsas"
	sameType    = hidden + "same"
)

func (in *Interp) addDynamic() {
	in.builtin(toInterface, 1, 1, func(c *fast.Comp, call *ast.CallExpr) *fast.Call {
		return in.compileBoxing(c, call.Args[0], c.TypeOfInterface(), in.kept)
	})
	in.builtin(toError, 1, 1, func(c *fast.Comp, call *ast.CallExpr) *fast.Call {
		return in.compileBoxing(c, call.Args[0], c.TypeOfError(), in.kept)
	})
	in.builtin(fromBox, 1, 1, func(c *fast.Comp, call *ast.CallExpr) *fast.Call {
		a := c.Expr1(call.Args[0], nil)
		return valueFunc(c, a, c.TypeOfInterface(), func(v reflect.Value) reflect.Value {
			val, t := in.dynamic(v, false)
			if t == nil {
				return v
			}
			return anyValue(val.Interface())
		})
	})
	in.builtin(equal, 2, 2, in.compileEqual)
	in.builtin(holds, 2, 2, in.compileHolds)
	in.builtin(taken, 2, 2, func(c *fast.Comp, call *ast.CallExpr) *fast.Call { return in.compileTaken(c, call, false) })
	in.builtin(takenOK, 2, 2, func(c *fast.Comp, call *ast.CallExpr) *fast.Call { return in.compileTaken(c, call, true) })
	in.builtin(errorsAs, 2, 2, in.compileErrorsAs)
	in.builtin(sameType, 2, 2, func(c *fast.Comp, call *ast.CallExpr) *fast.Call {
		t := c.Expr1(call.Args[0], nil).Type // for its type alone
		rt := t.ReflectType()
		return valueFunc(c, c.Expr1(call.Args[1], nil), t, func(v reflect.Value) reflect.Value { return v.Convert(rt) })
	})
}

// compileBoxing compiles the conversion of an expression to interface{} or
// error, with its type.
func (in *Interp) compileBoxing(c *fast.Comp, e ast.Expr, to xr.Type, keep func(any) any) *fast.Call {
	a := c.Expr1(e, nil)
	if a.Type == nil { // nil
		a.To(c, to)
		return valueFunc(c, a, to, func(v reflect.Value) reflect.Value { return v })
	}
	if a.Const() {
		a.ConstTo(a.DefaultType())
	}
	t := a.Type
	emulated := t.Kind() == reflect.Interface && xr.IsEmulatedInterface(t)
	rto := to.ReflectType()
	return valueFunc(c, a, to, func(v reflect.Value) reflect.Value {
		var x any
		if t.Kind() == reflect.Interface {
			x = in.fromInterface(v, emulated)
		} else {
			x = in.toAny(xr.MakeValue(v), t)
		}
		out := reflect.New(rto).Elem()
		if x = keep(x); x != nil {
			out.Set(reflect.ValueOf(x))
		}
		return out
	})
}

// kept makes equal boxes one, so that comparing the interfaces that hold them
// compares what is inside.
func (in *Interp) kept(x any) any { return in.pool.keep(x) }

// boxPool holds the boxes in use by what is in them.
type boxPool struct {
	mu sync.Mutex
	m  map[boxKey]weak.Pointer[box]
}

type boxKey struct {
	face *face
	val  any
}

func (p *boxPool) keep(x any) any {
	b := boxOf(x)
	if b == nil {
		return x
	}
	v := b.value()
	if !v.Comparable() || !v.Equal(v) { // a NaN equals nothing
		return x
	}
	k := boxKey{b.face, v.Interface()}
	p.mu.Lock()
	defer p.mu.Unlock()
	if w, ok := p.m[k]; ok {
		if old := w.Value(); old != nil {
			return old.outer
		}
	}
	if p.m == nil {
		p.m = map[boxKey]weak.Pointer[box]{}
	}
	w := weak.Make(b)
	p.m[k] = w
	runtime.AddCleanup(b, func(k boxKey) {
		p.mu.Lock()
		defer p.mu.Unlock()
		if p.m[k] == w {
			delete(p.m, k)
		}
	}, k)
	return x
}

func boxOf(x any) *box {
	switch x := x.(type) {
	case *box:
		return x
	case *textBox:
		return x.box
	case *errorBox:
		return x.box
	}
	return nil
}

// dynamic returns what an interface value holds, and its type if a cell
// declares it or if the engine knows it; for anything else the type is nil. An
// empty interface gives the zero Value.
func (in *Interp) dynamic(v reflect.Value, emulated bool) (reflect.Value, xr.Type) {
	x := in.fromInterface(v, emulated)
	if b := boxOf(x); b != nil {
		return b.value(), b.face.typ
	}
	return reflect.ValueOf(x), nil
}

// operand compiles an expression that is to be compared, and returns how to
// get its dynamic value out of its engine value.
func (in *Interp) operand(c *fast.Comp, e ast.Expr) (*fast.Expr, func(reflect.Value) (reflect.Value, xr.Type)) {
	a := c.Expr1(e, nil)
	if a.Type == nil {
		a.To(c, c.TypeOfInterface())
	} else if a.Const() {
		a.ConstTo(a.DefaultType())
	}
	t := a.Type
	if t.Kind() == reflect.Interface {
		emulated := xr.IsEmulatedInterface(t)
		return a, func(v reflect.Value) (reflect.Value, xr.Type) { return in.dynamic(v, emulated) }
	}
	own := in.faceOf(t).own
	return a, func(v reflect.Value) (reflect.Value, xr.Type) {
		if own {
			return v, t
		}
		return v, nil
	}
}

// compileEqual compiles x == y where one of them is an interface.
func (in *Interp) compileEqual(c *fast.Comp, call *ast.CallExpr) *fast.Call {
	x, dx := in.operand(c, call.Args[0])
	y, dy := in.operand(c, call.Args[1])
	tb := c.Universe.BasicTypes[reflect.Bool]
	ts := []xr.Type{x.Type, y.Type}
	fn := reflect.MakeFunc(reflect.FuncOf([]reflect.Type{ts[0].ReflectType(), ts[1].ReflectType()}, []reflect.Type{reflect.TypeFor[bool]()}, false),
		func(a []reflect.Value) []reflect.Value {
			vx, tx := dx(a[0])
			vy, ty := dy(a[1])
			return []reflect.Value{reflect.ValueOf(sameDynamic(vx, tx, vy, ty))}
		})
	return &fast.Call{Fun: constantFunc(c.Universe.FuncOf(ts, []xr.Type{tb}, false), fn.Interface()), Args: []*fast.Expr{x, y}, OutTypes: []xr.Type{tb}}
}

func sameDynamic(vx reflect.Value, tx xr.Type, vy reflect.Value, ty xr.Type) bool {
	switch {
	case !vx.IsValid() || !vy.IsValid():
		return vx.IsValid() == vy.IsValid()
	case (tx == nil) != (ty == nil):
		return false
	case tx != nil && !tx.IdenticalTo(ty):
		return false
	case vx.Type() != vy.Type():
		return false
	}
	return vx.Interface() == vy.Interface()
}

// fits reports whether a dynamic value may be taken as a T.
func (in *Interp) fits(v reflect.Value, t xr.Type, want xr.Type) bool {
	if !v.IsValid() {
		return false
	}
	if want.Kind() == reflect.Interface {
		if want.NumMethod() == 0 {
			return true
		}
		if t == nil {
			if !xr.IsEmulatedInterface(want) {
				return v.Type().Implements(want.ReflectType())
			}
			t = in.ir.Comp.Universe.FromReflectType(v.Type())
		}
		return t.Implements(want)
	}
	if t != nil {
		return t.IdenticalTo(want)
	}
	if want.Named() && want.PkgPath() == cellPath {
		return false
	}
	return v.Type() == want.ReflectType()
}

// take makes a dynamic value that fits a value of type want.
func (in *Interp) take(v reflect.Value, t xr.Type, want xr.Type) reflect.Value {
	rt := want.ReflectType()
	out := reflect.New(rt).Elem()
	if want.Kind() != reflect.Interface {
		out.Set(v.Convert(rt))
		return out
	}
	if t == nil && !xr.IsEmulatedInterface(want) {
		out.Set(v)
		return out
	}
	if t == nil {
		t = in.ir.Comp.Universe.FromReflectType(v.Type())
	} else if x := in.kept(newBox(xr.MakeValue(v), in.faceOf(t))); reflect.TypeOf(x).AssignableTo(rt) {
		out.Set(reflect.ValueOf(x)) // interface{}, error, fmt.Stringer
		return out
	}
	in.convMu.Lock()
	conv := in.ir.Comp.Converter(t, want)
	in.convMu.Unlock()
	if conv == nil {
		out.Set(v.Convert(rt))
		return out
	}
	out.Set(conv(xr.MakeValue(v)).ReflectValue())
	return out
}

// asked compiles the interface and the type of a type assertion.
func (in *Interp) asked(c *fast.Comp, call *ast.CallExpr) (*fast.Expr, xr.Type, bool) {
	a := c.Expr1(call.Args[0], nil)
	return a, c.Type(call.Args[1]), xr.IsEmulatedInterface(a.Type)
}

func (in *Interp) compileHolds(c *fast.Comp, call *ast.CallExpr) *fast.Call {
	a, want, emulated := in.asked(c, call)
	return valueFunc(c, a, c.Universe.BasicTypes[reflect.Bool], func(x reflect.Value) reflect.Value {
		v, t := in.dynamic(x, emulated)
		return reflect.ValueOf(in.fits(v, t, want))
	})
}

func (in *Interp) compileTaken(c *fast.Comp, call *ast.CallExpr, both bool) *fast.Call {
	a, want, emulated := in.asked(c, call)
	zero := reflect.Zero(want.ReflectType())
	from := a.Type.String()
	if a.Type.Kind() == reflect.Interface && a.Type.NumMethod() == 0 {
		from = "interface {}"
	}
	get := func(x reflect.Value) (reflect.Value, bool) {
		v, t := in.dynamic(x, emulated)
		if in.fits(v, t, want) {
			return in.take(v, t, want), true
		}
		if !both {
			panic(wrongType(from, v, t, want))
		}
		return zero, false
	}
	if !both {
		return valueFunc(c, a, want, func(x reflect.Value) reflect.Value {
			v, _ := get(x)
			return v
		})
	}
	out := []xr.Type{want, c.Universe.BasicTypes[reflect.Bool]}
	fn := reflect.MakeFunc(reflect.FuncOf([]reflect.Type{a.Type.ReflectType()}, []reflect.Type{want.ReflectType(), reflect.TypeFor[bool]()}, false),
		func(args []reflect.Value) []reflect.Value {
			v, ok := get(args[0])
			return []reflect.Value{v, reflect.ValueOf(ok)}
		})
	return &fast.Call{Fun: constantFunc(c.Universe.FuncOf([]xr.Type{a.Type}, out, false), fn.Interface()), Args: []*fast.Expr{a}, OutTypes: out}
}

// wrongType is the panic of a type assertion that failed.
func wrongType(from string, v reflect.Value, t, want xr.Type) error {
	have := "nil"
	if t != nil {
		have = t.String()
	} else if v.IsValid() {
		have = v.Type().String()
	}
	if want.Kind() == reflect.Interface && v.IsValid() {
		return fmt.Errorf("interface conversion: %s is not %s: a method is missing", have, want)
	}
	return fmt.Errorf("interface conversion: %s is %s, not %s", from, have, want)
}

// compileErrorsAs compiles errors.As for a target of a type that a cell
// declares.
func (in *Interp) compileErrorsAs(c *fast.Comp, call *ast.CallExpr) *fast.Call {
	e := c.Expr1(call.Args[0], nil)
	e.To(c, c.TypeOfError())
	target := c.Expr1(call.Args[1], nil)
	want := target.Type.Elem()
	tb := c.Universe.BasicTypes[reflect.Bool]
	ts := []xr.Type{e.Type, target.Type}
	fn := reflect.MakeFunc(reflect.FuncOf([]reflect.Type{ts[0].ReflectType(), ts[1].ReflectType()}, []reflect.Type{reflect.TypeFor[bool]()}, false),
		func(a []reflect.Value) []reflect.Value {
			if a[1].IsNil() {
				panic("errors: target cannot be nil")
			}
			err, _ := a[0].Interface().(error)
			return []reflect.Value{reflect.ValueOf(in.findError(err, want, a[1].Elem()))}
		})
	return &fast.Call{Fun: constantFunc(c.Universe.FuncOf(ts, []xr.Type{tb}, false), fn.Interface()), Args: []*fast.Expr{e, target}, OutTypes: []xr.Type{tb}}
}

// findError looks for an error of type want in the tree of err.
func (in *Interp) findError(err error, want xr.Type, target reflect.Value) bool {
	for err != nil {
		v, t := in.dynamic(reflect.ValueOf(&err).Elem(), false)
		if in.fits(v, t, want) {
			target.Set(in.take(v, t, want))
			return true
		}
		if many, ok := err.(interface{ Unwrap() []error }); ok {
			for _, e := range many.Unwrap() {
				if in.findError(e, want, target) {
					return true
				}
			}
			return false
		}
		err = errors.Unwrap(err)
	}
	return false
}
