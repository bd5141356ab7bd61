package interp

import (
	"go/ast"
	"go/token"
)

// rewrite changes a top-level node so that the engine runs it as Go means it.
func rewrite(n ast.Node) {
	ast.Inspect(n, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.FuncDecl:
			guardDepth(n.Body)
		case *ast.FuncLit:
			guardDepth(n.Body)
		case *ast.RangeStmt:
			if n.Tok == token.DEFINE {
				freshPerRound(n.Body, identNames(n.Key, n.Value))
			}
		case *ast.ForStmt:
			if a, ok := n.Init.(*ast.AssignStmt); ok && a.Tok == token.DEFINE {
				freshPerRound(n.Body, identNames(a.Lhs...))
			}
		}
		return true
	})
}

func identAt(name string, pos token.Pos) *ast.Ident { return &ast.Ident{Name: name, NamePos: pos} }

func callAt(pos token.Pos, fn string, args ...ast.Expr) *ast.CallExpr {
	return &ast.CallExpr{Fun: identAt(fn, pos), Lparen: pos, Args: args, Rparen: pos}
}

// guardDepth makes a function check, when it is entered, that calls are not
// nested too deeply: running out of stack would end the whole process.
func guardDepth(body *ast.BlockStmt) {
	if body == nil {
		return
	}
	pos := body.Lbrace
	if len(body.List) > 0 {
		pos = body.List[0].Pos()
	}
	body.List = append([]ast.Stmt{&ast.ExprStmt{X: callAt(pos, depthGuard)}}, body.List...)
}

// identNames lists the names among es, without the blank one.
func identNames(es ...ast.Expr) []string {
	var out []string
	for _, e := range es {
		if id, ok := e.(*ast.Ident); ok && id != nil && id.Name != "_" {
			out = append(out, id.Name)
		}
	}
	return out
}

// declared lists the variables that a top-level node declares.
func declared(n ast.Node) []string {
	switch n := n.(type) {
	case *ast.AssignStmt:
		if n.Tok == token.DEFINE {
			return identNames(n.Lhs...)
		}
	case *ast.GenDecl:
		var out []string
		if n.Tok == token.VAR {
			for _, s := range n.Specs {
				for _, id := range s.(*ast.ValueSpec).Names {
					out = append(out, id.Name)
				}
			}
		}
		return out
	}
	return nil
}

// freshPerRound gives each round of a loop its own copy of the loop variables
// that a closure or an address keeps, as Go has had it since 1.22. A variable
// that the body assigns to is left alone: the loop must see the change.
func freshPerRound(body *ast.BlockStmt, vars []string) {
	for _, v := range vars {
		if kept, assigned := useOf(body, v); kept && !assigned {
			p := body.Lbrace
			fresh := &ast.AssignStmt{
				Lhs: []ast.Expr{identAt(v, p)}, TokPos: p, Tok: token.DEFINE,
				Rhs: []ast.Expr{identAt(v, p)},
			}
			body.List = append([]ast.Stmt{fresh}, body.List...)
		}
	}
}

// useOf reports whether body keeps variable v beyond the round, and whether it
// assigns to it.
func useOf(body *ast.BlockStmt, v string) (kept, assigned bool) {
	isV := func(e ast.Expr) bool {
		id, ok := e.(*ast.Ident)
		return ok && id.Name == v
	}
	var walk func(n ast.Node, inClosure bool)
	walk = func(n ast.Node, inClosure bool) {
		ast.Inspect(n, func(m ast.Node) bool {
			switch m := m.(type) {
			case *ast.FuncLit:
				if m == n {
					return true
				}
				walk(m, true)
				return false
			case *ast.UnaryExpr:
				kept = kept || m.Op == token.AND && isV(m.X)
			case *ast.AssignStmt:
				if m.Tok != token.DEFINE {
					for _, l := range m.Lhs {
						assigned = assigned || isV(l)
					}
				}
			case *ast.IncDecStmt:
				assigned = assigned || isV(m.X)
			case *ast.Ident:
				kept = kept || inClosure && m.Name == v
			}
			return true
		})
	}
	walk(body, false)
	return kept, assigned
}
