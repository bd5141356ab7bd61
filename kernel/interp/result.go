package interp

import (
	"go/ast"
	"go/types"
	"reflect"
	"strings"

	xr "github.com/cosmos72/gomacro/xreflect"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/interp/typing"
	"rotorhum/kernel/show"
)

// ending is the last expression of a cell and what it came to.
type ending struct {
	src   *source
	expr  ast.Expr // nil if the cell ends otherwise
	quiet bool     // it shows nothing, whatever its value
	vals  []xr.Value
	types []xr.Type
	at    place
}

// endOf finds the last expression of a checked cell.
func (in *Interp) endOf(sc *script, c *typing.Cell) *ending {
	e := &ending{src: sc.src, quiet: sc.quiet}
	if len(sc.nodes) == 0 {
		return e
	}
	s, ok := sc.nodes[len(sc.nodes)-1].(*ast.ExprStmt)
	if !ok {
		return e
	}
	e.expr, e.at = s.X, in.lib.place(s.Pos())
	if call, ok := ast.Unparen(s.X).(*ast.CallExpr); ok {
		// What Println returns is of no interest to anybody.
		if sel, ok := call.Fun.(*ast.SelectorExpr); ok {
			f, _ := c.Info.Uses[sel.Sel].(*types.Func)
			if f != nil && f.Pkg() != nil && f.Pkg().Path() == "fmt" && strings.Contains(strings.ToLower(f.Name()), "print") &&
				!strings.HasPrefix(f.Name(), "S") {
				e.quiet = true
			}
		}
	}
	return e
}

// take keeps the values of the expression; a second value that the expression
// does not have in Go, such as that of m[k], is dropped.
func (e *ending) take(vals []xr.Value, ts []xr.Type, t types.Type) {
	if _, ok := t.(*types.Tuple); !ok && len(vals) > 1 {
		vals, ts = vals[:1], ts[:1]
	}
	e.vals, e.types = vals, ts
}

// result renders the values of a cell's last expression. A non-nil error as
// the last of them fails the cell.
func (in *Interp) result(e *ending) (*cell.Bundle, *cell.Fault) {
	n := len(e.vals)
	if n == 0 {
		return nil, nil
	}
	shown := make([]any, 0, n)
	for i, v := range e.vals {
		x := in.toAny(v, e.types[i])
		if i == n-1 && e.types[i] != nil && e.types[i].IdenticalTo(in.ir.Comp.TypeOfError()) {
			if err, ok := x.(error); ok {
				return nil, in.errorFault(err, e.at)
			}
			if x == nil {
				continue
			}
		}
		shown = append(shown, x)
	}
	if e.quiet || len(shown) == 0 {
		return nil, nil
	}
	b, err := in.bundleAll(shown)
	if err != nil {
		return nil, in.errorFault(err, e.at)
	}
	return &b, nil
}

// bundleOf renders one value.
func (in *Interp) bundleOf(v any) (cell.Bundle, error) {
	if in.opt.Render != nil {
		if b, ok, err := in.opt.Render(in.Context(), v); ok {
			return b, err
		}
	}
	return show.Bundle(v)
}

// bundleAll renders several values as one bundle.
func (in *Interp) bundleAll(vals []any) (cell.Bundle, error) {
	if len(vals) == 1 {
		return in.bundleOf(vals[0])
	}
	var rich any
	var texts []string
	for _, v := range vals {
		if show.IsRich(v) {
			if rich != nil {
				rich = nil
				break
			}
			rich = v
		}
	}
	for _, v := range vals {
		texts = append(texts, show.Text(v))
	}
	b := cell.Bundle{Data: map[string]any{}}
	if rich != nil {
		var err error
		if b, err = in.bundleOf(rich); err != nil {
			return b, err
		}
	}
	b.Data[show.TextPlain] = strings.Join(texts, " ")
	return b, nil
}

// toAny turns a value of the engine into one that knows its methods.
func (in *Interp) toAny(v xr.Value, t xr.Type) any {
	if !v.IsValid() {
		return nil
	}
	r := v.ReflectValue()
	if !r.IsValid() || !r.CanInterface() {
		return nil
	}
	if t == nil {
		return r.Interface()
	}
	if t.Kind() == reflect.Interface {
		return in.fromInterface(r, xr.IsEmulatedInterface(t))
	}
	if f := in.faceOf(t); f.own {
		return newBox(v, f)
	}
	return r.Interface()
}

// fromInterface takes what an interface value of the engine holds.
func (in *Interp) fromInterface(r reflect.Value, emulated bool) any {
	if k := r.Kind(); (k == reflect.Interface || k == reflect.Pointer) && r.IsNil() {
		return nil
	}
	if emulated {
		v, t := xr.FromEmulatedInterface(xr.MakeValue(r))
		return in.toAny(v, t)
	}
	x := r.Interface()
	switch x.(type) {
	case *box, *textBox, *errorBox:
		return x
	}
	if v, t, ok := in.opened(x); ok {
		return newBox(v, in.faceOf(t))
	}
	return x
}
