package interp

import (
	"go/ast"
	"go/token"
	"go/types"

	xr "github.com/cosmos72/gomacro/xreflect"
	"golang.org/x/tools/go/ast/astutil"
)

// The engine cannot give methods to a type that refers to itself, such as a
// list or a tree: reflect cannot make such types, and the engine's stand-in
// loses their methods. So a field that refers back to its own type is declared
// as interface{}, and every use of the field puts the real type back.

// backField is a field that was declared as interface{}.
type backField struct {
	typ  ast.Expr // its type in the cell
	real xr.Type  // the same for the engine, nil until the type is declared
}

// declareType replaces the types of the fields of a struct that refer back to
// a type that is being declared together with it.
func (r *rewriter) declareType(sp *ast.TypeSpec) {
	tn, ok := r.info.Defs[sp.Name].(*types.TypeName)
	if !ok || tn.IsAlias() {
		return
	}
	st, ok := sp.Type.(*ast.StructType)
	if !ok {
		return
	}
	for _, f := range st.Fields.List {
		if len(f.Names) == 0 || !refersTo(r.info.TypeOf(f.Type), tn) {
			continue
		}
		b := &backField{typ: f.Type}
		for _, id := range f.Names {
			if v, ok := r.info.Defs[id].(*types.Var); ok {
				r.in.back[v] = b
				r.in.newBack = append(r.in.newBack, b)
			}
		}
		f.Type = &ast.InterfaceType{Interface: f.Type.Pos(), Methods: &ast.FieldList{Opening: f.Type.Pos(), Closing: f.Type.End()}}
	}
}

// refersTo reports whether t mentions the named type tn, looking through the
// other types that cells declare.
func refersTo(t types.Type, tn *types.TypeName) bool {
	seen := map[types.Type]bool{}
	var walk func(types.Type) bool
	tuple := func(tu *types.Tuple) bool {
		for i := range tu.Len() {
			if walk(tu.At(i).Type()) {
				return true
			}
		}
		return false
	}
	walk = func(t types.Type) bool {
		if t == nil || seen[t] {
			return false
		}
		seen[t] = true
		switch t := types.Unalias(t).(type) {
		case *types.Named:
			if t.Obj() == tn {
				return true
			}
			if t.Obj().Pkg() == nil || t.Obj().Pkg() != tn.Pkg() {
				return false
			}
			return walk(t.Underlying())
		case *types.Pointer:
			return walk(t.Elem())
		case *types.Slice:
			return walk(t.Elem())
		case *types.Array:
			return walk(t.Elem())
		case *types.Chan:
			return walk(t.Elem())
		case *types.Map:
			return walk(t.Key()) || walk(t.Elem())
		case *types.Signature:
			return tuple(t.Params()) || tuple(t.Results())
		case *types.Struct:
			for i := range t.NumFields() {
				if walk(t.Field(i).Type()) {
					return true
				}
			}
		case *types.Interface:
			for i := range t.NumMethods() {
				if walk(t.Method(i).Type()) {
					return true
				}
			}
		}
		return false
	}
	return walk(t)
}

// selector rewrites x.f.
func (r *rewriter) selector(c *astutil.Cursor, n *ast.SelectorExpr) {
	sel := r.info.Selections[n]
	if sel == nil {
		return
	}
	// The engine finds no fields through a pointer to a struct without a name.
	if p, ok := r.typeOf(n.X).(*types.Pointer); ok {
		if _, ok := types.Unalias(p.Elem()).(*types.Struct); ok {
			n.X = &ast.ParenExpr{Lparen: n.X.Pos(), X: &ast.StarExpr{Star: n.X.Pos(), X: n.X}, Rparen: n.X.End()}
			r.types[n.X] = p.Elem()
		}
	}
	v, ok := sel.Obj().(*types.Var)
	if !ok {
		return
	}
	b := r.in.back[v]
	if b == nil {
		return
	}
	switch p := c.Parent().(type) {
	case *ast.AssignStmt:
		if c.Name() == "Lhs" {
			return
		}
	case *ast.UnaryExpr:
		if p.Op == token.AND {
			panic(&compileError{n.Pos(), "the address of field " + n.Sel.Name + ", whose type refers back to its own struct, cannot be taken"})
		}
	}
	get := callAt(n.Pos(), getBack, n)
	r.in.hints[get] = b
	r.replace(c, n, get)
}
