package interp

import (
	"fmt"
	"go/ast"
	"go/types"

	"golang.org/x/tools/go/ast/astutil"
)

// goStmt makes a goroutine catch its own panics: uncaught, they would end the
// whole process. "go f(x)" evaluates f and x at once, so the closure that
// takes its place gets them as variables.
func (r *rewriter) goStmt(c *astutil.Cursor, n *ast.GoStmt) {
	pos := n.Go
	guard := &ast.DeferStmt{Defer: pos, Call: &ast.CallExpr{Fun: closure(pos, stmtOf(callAt(pos, goPanicked, callAt(pos, "recover")))), Lparen: pos, Rparen: pos}}
	if f, ok := n.Call.Fun.(*ast.FuncLit); ok && len(n.Call.Args) == 0 {
		f.Body.List = append([]ast.Stmt{guard}, f.Body.List...)
		c.Replace(blockAt(pos, n.End(), stmtOf(callAt(pos, goStarts)), n))
		return
	}
	held, call := r.hold(n.Call)
	n.Call = &ast.CallExpr{Fun: closure(pos, guard, stmtOf(call)), Lparen: pos, Rparen: pos}
	c.Replace(blockAt(pos, n.End(), append(held, stmtOf(callAt(pos, goStarts)), n)...))
}

// deferStmt rewrites what the engine cannot defer: a builtin function, and
// anything at the top of a cell, where "the end" is the end of the cell.
func (r *rewriter) deferStmt(c *astutil.Cursor, n *ast.DeferStmt) {
	if r.isBuiltinCall(n.Call) {
		if id, ok := n.Call.Fun.(*ast.Ident); ok && id.Name == "recover" {
			return
		}
	} else if len(r.funcs) > 0 {
		return
	}
	pos := n.Defer
	held, call := r.hold(n.Call)
	var last ast.Stmt
	if len(r.funcs) > 0 {
		last = &ast.DeferStmt{Defer: pos, Call: &ast.CallExpr{Fun: closure(pos, stmtOf(call)), Lparen: pos, Rparen: pos}}
	} else {
		last = stmtOf(callAt(pos, atCellEnd, closure(pos, stmtOf(call))))
	}
	c.Replace(blockAt(pos, n.End(), append(held, last)...))
}

func (r *rewriter) isBuiltinCall(n *ast.CallExpr) bool {
	id, ok := n.Fun.(*ast.Ident)
	if !ok {
		return false
	}
	_, isBuiltin := r.info.Uses[id].(*types.Builtin)
	return isBuiltin || r.in.isBase(r.info.Uses[id])
}

// hold evaluates the function and the arguments of a call into variables. It
// returns the statements that do so and the call on the variables.
func (r *rewriter) hold(n *ast.CallExpr) (held []ast.Stmt, call *ast.CallExpr) {
	keep := func(e ast.Expr, name string) ast.Expr {
		if r.isConst(e) {
			return e
		}
		if lit, ok := e.(*ast.FuncLit); ok {
			return lit
		}
		held = append(held, define(e.Pos(), []string{name}, e))
		return identAt(name, e.Pos())
	}
	cp := *n
	call = &cp
	call.Args = nil
	if !r.isBuiltinCall(n) && !r.isPlainFunc(n.Fun) {
		call.Fun = keep(n.Fun, hidden+"f")
	}
	for i, a := range n.Args {
		name := fmt.Sprintf("%sa%d", hidden, i)
		if tuple, ok := r.typeOf(a).(*types.Tuple); ok {
			var names []string
			for j := range tuple.Len() {
				names = append(names, fmt.Sprintf("%s_%d", name, j))
				call.Args = append(call.Args, identAt(names[j], a.Pos()))
			}
			held = append(held, define(a.Pos(), names, a))
			continue
		}
		if id, ok := n.Fun.(*ast.Ident); ok && i == 0 && (id.Name == "new" || id.Name == "make") {
			call.Args = append(call.Args, a) // a type
			continue
		}
		call.Args = append(call.Args, keep(a, name))
	}
	return held, call
}

// isPlainFunc reports whether e names a function, which cannot change before
// the call.
func (r *rewriter) isPlainFunc(e ast.Expr) bool {
	switch e := e.(type) {
	case *ast.Ident:
		_, ok := r.info.Uses[e].(*types.Func)
		return ok
	case *ast.SelectorExpr:
		if x, ok := e.X.(*ast.Ident); ok {
			_, isPkg := r.info.Uses[x].(*types.PkgName)
			return isPkg
		}
	case *ast.FuncLit:
		return true
	}
	return false
}
