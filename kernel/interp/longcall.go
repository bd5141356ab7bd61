package interp

import (
	"context"
	"go/ast"
	"go/types"
	"reflect"
	"sync"
	"time"

	"github.com/cosmos72/gomacro/fast"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/show"
)

// Compiled functions that may take long take options with a context to end
// them, and perhaps a function to tell how far they are. Where a cell leaves
// these fields out, the kernel fills them in: an interrupt then ends the call,
// and a bar shows its progress where a person is watching. Whether there is a bar
// depends on the machine's speed, so it empties itself when the work is done.

const fillOptions = hidden + "options"

// longCall prepares the options of a compiled function.
func (r *rewriter) longCall(f *types.Func, n *ast.CallExpr) {
	for i, a := range n.Args {
		t := r.typeOf(a)
		if t == nil || !hasContext(t) {
			continue
		}
		call := callAt(a.Pos(), fillOptions, a)
		r.types[call] = t
		r.in.hints[call] = f.Pkg().Name() + "." + f.Name()
		n.Args[i] = call
	}
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
	return valueFunc(c, a, a.Type, func(v reflect.Value) reflect.Value {
		out := reflect.New(v.Type()).Elem()
		out.Set(v)
		if f := out.FieldByName("Context"); f.Type() == reflect.TypeFor[context.Context]() && f.IsNil() {
			f.Set(reflect.ValueOf(in.Context()))
		}
		if f := out.FieldByName("Progress"); in.attended() && f.IsValid() && f.Type() == reflect.TypeFor[func(float64)]() && f.IsNil() {
			f.Set(reflect.ValueOf(in.slowProgress(label)))
		}
		return out
	})
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
