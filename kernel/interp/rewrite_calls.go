package interp

import (
	"go/ast"
	"go/token"
	"go/types"
	"strconv"
	"strings"

	"golang.org/x/tools/go/ast/astutil"
)

// call rewrites a function call.
func (r *rewriter) call(c *astutil.Cursor, n *ast.CallExpr) {
	if f := r.callee(n); f != nil && f.Pkg() != nil && f.Pkg().Path() == "errors" && f.Name() == "As" {
		if p, ok := r.typeOf(n.Args[1]).(*types.Pointer); ok && mentionsCellType(p.Elem()) {
			n.Args[0] = r.into(n.Args[0], types.Universe.Lookup("error").Type())
			r.replace(c, n, callAt(n.Pos(), errorsAs, n.Args...))
			return
		}
	}
	if name := r.genericName(r.callee(n)); name != "" {
		call, ok := r.genericCall(name, n)
		if !ok {
			panic(&compileError{n.Pos(), name + " does not run in cells"})
		}
		r.replace(c, n, call)
		return
	}
	r.arguments(n)
	if tv, ok := r.info.Types[n.Fun]; ok && tv.IsType() {
		r.conversion(c, n, tv.Type)
		return
	}
	// Given one argument that has a two-value form, the engine would pass both
	// values.
	if len(n.Args) == 1 && r.hasTwoValueForm(n.Args[0]) {
		if _, isTuple := r.typeOf(n.Args[0]).(*types.Tuple); !isTuple {
			a := n.Args[0]
			n.Args[0] = callAt(a.Pos(), oneValue, a)
			r.types[n.Args[0]] = r.typeOf(a)
		}
	}
	if f := r.callee(n); f != nil && r.in.isBase(f) {
		switch f.Name() {
		case "display", "displayAs", "page":
			for i, a := range n.Args {
				n.Args[i] = r.boxed(a)
			}
		}
	} else if f != nil && f.Pkg() != nil {
		r.longCall(f, n)
		r.lookAtCall(f, n)
		r.lookAtDraw(n)
		switch f.Pkg().Path() {
		case "fmt", "log":
			r.printed(f, n)
		case "sync":
			r.waitingCall(c, n, f)
		case "encoding/json":
			if strings.HasPrefix(f.Name(), "Marshal") || f.Name() == "Encode" {
				n.Args[0] = r.boxed(n.Args[0])
			}
		}
	}
	r.roomy(n)
	if id, ok := n.Fun.(*ast.Ident); ok && len(n.Args) == 1 {
		if b, ok := r.info.Uses[id].(*types.Builtin); ok && b.Name() == "panic" {
			n.Args[0] = r.boxed(n.Args[0])
		}
	}
	if id, ok := n.Fun.(*ast.Ident); ok && id.Name == "recover" && len(n.Args) == 0 {
		if _, ok := r.info.Uses[id].(*types.Builtin); ok {
			if s, ok := c.Parent().(*ast.ExprStmt); !ok || s.X != n {
				r.replace(c, n, callAt(n.Pos(), recovered, n))
			}
		}
	}
}

// conversion takes the two conversions that numerical loops are full of past
// reflection, through which the engine makes them.
func (r *rewriter) conversion(c *astutil.Cursor, n *ast.CallExpr, to types.Type) {
	if len(n.Args) != 1 || r.isConst(n.Args[0]) {
		return
	}
	switch from := r.typeOf(n.Args[0]); {
	case from == types.Typ[types.Int] && to == types.Typ[types.Float64]:
		r.replace(c, n, callAt(n.Pos(), intToFloat, n.Args[0]))
	case from == types.Typ[types.Float64] && to == types.Typ[types.Int]:
		r.replace(c, n, callAt(n.Pos(), floatToInt, n.Args[0]))
	}
}

func (r *rewriter) hasTwoValueForm(e ast.Expr) bool {
	switch e := e.(type) {
	case *ast.ParenExpr:
		return r.hasTwoValueForm(e.X)
	case *ast.IndexExpr:
		t := r.typeOf(e.X)
		if t == nil {
			return false
		}
		_, ok := t.Underlying().(*types.Map)
		return ok
	}
	return false
}

// callee returns the function that a call names, or nil.
func (r *rewriter) callee(n *ast.CallExpr) *types.Func {
	fun := ast.Unparen(n.Fun)
	switch f := fun.(type) { // slices.Sort[[]int]
	case *ast.IndexExpr:
		fun = f.X
	case *ast.IndexListExpr:
		fun = f.X
	}
	switch f := fun.(type) {
	case *ast.Ident:
		o, _ := r.info.Uses[f].(*types.Func)
		return o
	case *ast.SelectorExpr:
		o, _ := r.info.Uses[f.Sel].(*types.Func)
		return o
	}
	return nil
}

// printed prepares the arguments that a function of fmt or log formats: the
// engine hands over values without their types, and so without their names and
// their String and Error methods.
func (r *rewriter) printed(f *types.Func, n *ast.CallExpr) {
	sig := f.Signature()
	if !sig.Variadic() || n.Ellipsis.IsValid() {
		return
	}
	first := sig.Params().Len() - 1
	if len(n.Args) <= first {
		return
	}
	if strings.HasSuffix(f.Name(), "f") && first > 0 {
		r.typeVerbs(n, first)
	}
	if strings.Contains(f.Name(), "Scan") || strings.Contains(f.Name(), "scan") {
		return
	}
	for i := first; i < len(n.Args); i++ {
		n.Args[i] = r.boxed(n.Args[i])
	}
}

// typeVerbs answers %T for the types that cells declare, which fmt cannot know.
func (r *rewriter) typeVerbs(n *ast.CallExpr, first int) {
	lit, ok := n.Args[first-1].(*ast.BasicLit)
	if !ok || lit.Kind != token.STRING {
		return
	}
	format, err := strconv.Unquote(lit.Value)
	if err != nil || strings.ContainsAny(format, "*[") {
		return
	}
	var b strings.Builder
	arg := first
	for i := 0; i < len(format); i++ {
		b.WriteByte(format[i])
		if format[i] != '%' {
			continue
		}
		for i++; i < len(format) && strings.IndexByte("+-# 0123456789.", format[i]) >= 0; i++ {
			b.WriteByte(format[i])
		}
		if i == len(format) {
			break
		}
		verb := format[i]
		if verb == '%' {
			b.WriteByte(verb)
			continue
		}
		if verb == 'T' && arg < len(n.Args) {
			if t := r.typeOf(n.Args[arg]); t != nil && mentionsCellType(t) && !types.IsInterface(t) {
				verb = 's'
				name := types.TypeString(types.Default(t), (*types.Package).Name)
				n.Args[arg] = &ast.BasicLit{ValuePos: n.Args[arg].Pos(), Kind: token.STRING, Value: strconv.Quote(name)}
				r.types[n.Args[arg]] = types.Typ[types.String]
			}
		}
		b.WriteByte(verb)
		arg++
	}
	lit = &ast.BasicLit{ValuePos: lit.ValuePos, Kind: token.STRING, Value: strconv.Quote(b.String())}
	r.types[lit] = types.Typ[types.String]
	n.Args[first-1] = lit
}

// boxed wraps an argument so that it keeps its type when it becomes an
// interface value, if anything would be lost otherwise.
func (r *rewriter) boxed(e ast.Expr) ast.Expr {
	t := r.typeOf(e)
	if t == nil {
		return e
	}
	if _, ok := t.(*types.Tuple); ok {
		return e
	}
	if i, ok := t.Underlying().(*types.Interface); ok && i.Empty() || !ok && !mentionsCellType(t) {
		return e
	}
	return callAt(e.Pos(), boxValue, e)
}

// mentionsCellType reports whether t is or contains a type that a cell
// declares, or a struct type of its own.
func mentionsCellType(t types.Type) bool {
	seen := map[types.Type]bool{}
	var walk func(types.Type) bool
	walk = func(t types.Type) bool {
		if seen[t] {
			return false
		}
		seen[t] = true
		switch t := types.Unalias(t).(type) {
		case *types.Named:
			return t.Obj().Pkg() != nil && t.Obj().Pkg().Path() == cellPath
		case *types.Pointer:
			return walk(t.Elem())
		case *types.Slice:
			return walk(t.Elem())
		case *types.Array:
			return walk(t.Elem())
		case *types.Map:
			return walk(t.Key()) || walk(t.Elem())
		case *types.Struct:
			for i := range t.NumFields() {
				if !t.Field(i).Exported() || walk(t.Field(i).Type()) {
					return true
				}
			}
		}
		return false
	}
	return walk(t)
}
