package typing

import (
	"go/ast"
	"go/token"
	"go/types"
)

// beyond lists what in the nodes of a cell is good Go but more than the
// interpreter behind this package can run, and what only a function may do.
func beyond(nodes []ast.Node) (errs []Error) {
	add := func(pos token.Pos, msg string) { errs = append(errs, Error{pos, msg}) }
	for _, n := range nodes {
		if f, ok := n.(*ast.FuncDecl); ok && f.Recv == nil && f.Name.Name == "init" {
			add(f.Name.Pos(), "a function in a cell cannot be called init")
		}
		inFunc := false
		if _, ok := n.(*ast.FuncDecl); ok {
			inFunc = true
		}
		var walk func(n ast.Node, inFunc bool)
		walk = func(n ast.Node, inFunc bool) {
			ast.Inspect(n, func(m ast.Node) bool {
				switch m := m.(type) {
				case *ast.FuncLit:
					if m != n {
						walk(m, true)
						return false
					}
				case *ast.FuncType:
					if m.TypeParams.NumFields() > 0 {
						add(m.TypeParams.Pos(), "generic functions do not run in cells")
					}
				case *ast.TypeSpec:
					if m.TypeParams.NumFields() > 0 {
						add(m.TypeParams.Pos(), "generic types do not run in cells")
					}
				case *ast.ReturnStmt:
					if !inFunc {
						add(m.Pos(), "return outside a function")
					}
				case *ast.BranchStmt:
					if m.Tok == token.GOTO {
						add(m.Pos(), "goto does not run in cells")
					}
				}
				return true
			})
		}
		walk(n, inFunc)
	}
	return errs
}

// beyondTypes is beyond for what shows only once types are known.
func beyondTypes(nodes []ast.Node, info *types.Info) (errs []Error) {
	for _, n := range nodes {
		ast.Inspect(n, func(m ast.Node) bool {
			if mt, ok := m.(*ast.MapType); ok {
				if t := info.TypeOf(mt.Key); t != nil {
					if i, ok := t.Underlying().(*types.Interface); ok && !i.Empty() && ownInterface(t) {
						errs = append(errs, Error{mt.Key.Pos(), "a map whose keys are of an interface type that a cell declares does not run in cells"})
					}
				}
			}
			if r, ok := m.(*ast.RangeStmt); ok {
				if t := info.TypeOf(r.X); t != nil {
					if _, ok := t.Underlying().(*types.Signature); ok && !IsSequence(t) {
						errs = append(errs, Error{r.X.Pos(), "range over a function does not run in cells"})
					}
				}
			}
			return true
		})
	}
	return errs
}

// ownInterface reports whether an interface type is not one of a package.
func ownInterface(t types.Type) bool {
	n, ok := types.Unalias(t).(*types.Named)
	return !ok || n.Obj().Pkg() != nil && n.Obj().Pkg().Path() == cellPath
}

// IsSequence reports whether t is iter.Seq of something.
func IsSequence(t types.Type) bool {
	n, ok := types.Unalias(t).(*types.Named)
	return ok && n.Obj().Name() == "Seq" && n.Obj().Pkg() != nil && n.Obj().Pkg().Path() == "iter"
}
