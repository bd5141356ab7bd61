package interp

import (
	"context"
	"go/ast"
	"go/types"
	"reflect"
	"slices"
	"sync"
	"time"

	"github.com/cosmos72/gomacro/fast"
	xr "github.com/cosmos72/gomacro/xreflect"
	"github.com/gopherdata/gophernotes/imports"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/show"
)

// Compiled functions that may take long take options with a context to end
// them, and perhaps a function to tell how far they are. Where a cell leaves
// these fields out, the kernel fills them in: an interrupt then ends the call,
// and a bar shows its progress where a person is watching. Whether there is a bar
// depends on the machine's speed, so it empties itself when the work is done.
//
// A cell may also leave out the options as a whole, where they are variadic or
// where they belong to a second form of the function whose name ends in With
// (tacho.Open and tacho.OpenWith): the kernel puts them in.

const (
	fillOptions = hidden + "options"
	newOptions  = hidden + "newoptions"
)

// longCall prepares the options of a compiled function.
func (r *rewriter) longCall(f *types.Func, n *ast.CallExpr) {
	found := false
	for i, a := range n.Args {
		t := r.typeOf(a)
		if t == nil || !hasContext(t) {
			continue
		}
		found = true
		call := callAt(a.Pos(), fillOptions, a)
		r.types[call] = t
		r.in.hints[call] = callName(f)
		n.Args[i] = call
	}
	if f.Pkg().Path() == cellPath {
		return
	}
	sig := f.Signature()
	if last := sig.Params().Len() - 1; !found && sig.Variadic() && len(n.Args) == last {
		if t := sig.Params().At(last).Type().(*types.Slice).Elem(); hasContext(t) {
			r.addOptions(f, n, last, t)
			return
		}
	}
	sel, named := ast.Unparen(n.Fun).(*ast.SelectorExpr)
	if with, at := r.withForm(f); with != nil && named && !found {
		if r.addOptions(f, n, at, with.Signature().Params().At(at).Type()) {
			sel.Sel = identAt(with.Name(), sel.Sel.Pos())
		}
	}
}

// callName is what a progress bar calls the work of a function.
func callName(f *types.Func) string { return f.Pkg().Name() + "." + f.Name() }

// addOptions puts options of type t, filled in, into a call as argument i.
func (r *rewriter) addOptions(f *types.Func, n *ast.CallExpr, i int, t types.Type) bool {
	o := types.Unalias(t).(*types.Named).Obj()
	compiled := imports.Packages[o.Pkg().Path()].Types[o.Name()]
	if compiled == nil || i > len(n.Args) || len(n.Args) == 1 && isTuple(r.typeOf(n.Args[0])) {
		return false
	}
	call := callAt(n.Lparen, newOptions)
	r.types[call] = t
	r.in.hints[call] = omitted{callName(f), compiled}
	n.Args = slices.Insert(slices.Clone(n.Args), i, ast.Expr(call))
	return true
}

func isTuple(t types.Type) bool { _, ok := t.(*types.Tuple); return ok }

// omitted are options that a cell has left out.
type omitted struct {
	label string
	t     reflect.Type
}

// withForm returns the second form of a function or method, which takes options
// with a context as well, before or behind the others, and which of its
// arguments these are; or nil.
func (r *rewriter) withForm(f *types.Func) (with *types.Func, at int) {
	var o types.Object
	if recv := f.Signature().Recv(); recv != nil {
		o, _, _ = types.LookupFieldOrMethod(recv.Type(), true, f.Pkg(), f.Name()+"With")
	} else {
		o = r.in.view.Exported(f.Pkg().Path(), f.Name()+"With")
	}
	with, _ = o.(*types.Func)
	if with == nil {
		return nil, 0
	}
	a, b := f.Signature(), with.Signature()
	n := a.Params().Len()
	if b.Params().Len() != n+1 || a.Variadic() != b.Variadic() || !types.Identical(a.Results(), b.Results()) {
		return nil, 0
	}
	for _, at := range []int{0, n} {
		same := hasContext(b.Params().At(at).Type())
		for i, j := 0, 0; i < n; i, j = i+1, j+1 {
			if j == at {
				j++
			}
			same = same && types.Identical(a.Params().At(i).Type(), b.Params().At(j).Type())
		}
		if same {
			return with, at
		}
	}
	return nil, 0
}

// The engine itself looks only every eighty statements or so whether it has been
// interrupted. That is often enough unless compiled calls stand among them.

const stopCheck = hidden + "asked"

// callsCompiled reports whether a statement may call a compiled function, leaving
// aside the statements inside it.
func (r *rewriter) callsCompiled(s ast.Stmt) (found bool) {
	switch s.(type) {
	case *ast.ExprStmt, *ast.AssignStmt, *ast.DeclStmt, *ast.ReturnStmt, *ast.SendStmt:
	default:
		return false
	}
	ast.Inspect(s, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.FuncLit:
			return false
		case *ast.CallExpr:
			if sel, ok := ast.Unparen(n.Fun).(*ast.SelectorExpr); ok {
				f, _ := r.info.Uses[sel.Sel].(*types.Func)
				found = found || f == nil || f.Pkg() == nil || f.Pkg().Path() != cellPath
			}
		}
		return !found
	})
	return found
}

// compileStopCheck leaves the cell if it has been interrupted; goroutines that it
// has started go on.
func (in *Interp) compileStopCheck(c *fast.Comp, _ *ast.CallExpr) *fast.Call {
	return effect(c, func(env *fast.Env) {
		if in.stop.asked.Load() && env.Run == in.run {
			panic(errInterrupted)
		}
	})
}

// hasContext reports whether t is a struct type of a package with a field
// Context of type context.Context.
func hasContext(t types.Type) bool {
	n, ok := types.Unalias(t).(*types.Named)
	if !ok || n.Obj().Pkg() == nil || n.Obj().Pkg().Path() == cellPath {
		return false
	}
	st, ok := n.Underlying().(*types.Struct)
	if !ok {
		return false
	}
	for f := range st.Fields() {
		if f.Name() == "Context" && types.TypeString(f.Type(), nil) == "context.Context" {
			return true
		}
	}
	return false
}

func (in *Interp) compileFillOptions(c *fast.Comp, call *ast.CallExpr) *fast.Call {
	label := in.hints[call].(string)
	a := c.Expr1(call.Args[0], nil)
	return valueFunc(c, a, a.Type, func(v reflect.Value) reflect.Value { return in.filled(v, label) })
}

func (in *Interp) compileNewOptions(c *fast.Comp, call *ast.CallExpr) *fast.Call {
	o := in.hints[call].(omitted)
	out := c.Universe.FromReflectType(o.t)
	fn := reflect.MakeFunc(reflect.FuncOf(nil, []reflect.Type{o.t}, false), func([]reflect.Value) []reflect.Value {
		return []reflect.Value{in.filled(reflect.Zero(o.t), o.label)}
	})
	return &fast.Call{Fun: constantFunc(c.Universe.FuncOf(nil, []xr.Type{out}, false), fn.Interface()), OutTypes: []xr.Type{out}}
}

// filled returns options with the context of the running cell and a progress
// bar, where they have none of their own.
func (in *Interp) filled(v reflect.Value, label string) reflect.Value {
	out := reflect.New(v.Type()).Elem()
	out.Set(v)
	if f := out.FieldByName("Context"); f.Type() == reflect.TypeFor[context.Context]() && f.IsNil() {
		f.Set(reflect.ValueOf(in.Context()))
	}
	if f := out.FieldByName("Progress"); in.attended() && f.IsValid() && f.Type() == reflect.TypeFor[func(float64)]() && f.IsNil() {
		f.Set(reflect.ValueOf(in.slowProgress(label)))
	}
	in.fillLive(out)
	return out
}

// attended reports whether a person is there to be asked.
func (in *Interp) attended() bool { return in.req != nil && in.req.Input != nil }

// slowProgress returns a function that shows the share done of a call as a
// bar, once the call has taken some time, until all is done.
func (in *Interp) slowProgress(label string) func(float64) {
	const steps, wait = 1000, 700 * time.Millisecond
	began := time.Now()
	var mu sync.Mutex
	var set func(int) // nil: no bar is shown
	var name string
	ended := false
	return func(share float64) {
		mu.Lock()
		defer mu.Unlock()
		switch {
		case ended || set == nil && share < 1 && time.Since(began) < wait:
		case share >= 1:
			ended = true
			if set != nil {
				in.displayAs(name, cell.Bundle{Data: map[string]any{show.TextPlain: ""}})
			}
		case set == nil:
			name = in.barName()
			set = in.progressAs(name, steps, label)
			fallthrough
		default:
			set(int(share * steps))
		}
	}
}
