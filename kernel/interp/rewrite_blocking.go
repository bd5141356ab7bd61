package interp

import (
	"go/ast"
	"go/token"
	"go/types"

	"golang.org/x/tools/go/ast/astutil"
)

// receive rewrites <-ch, but not in a select.
func (r *rewriter) receive(c *astutil.Cursor, n *ast.UnaryExpr) {
	if n.Op != token.ARROW || r.comm[n] {
		return
	}
	fn := recvValue
	if _, both := r.typeOf(n).(*types.Tuple); both {
		fn = recvOK
	}
	r.replace(c, n, callAt(n.Pos(), fn, n.X))
}

// sendStmt rewrites ch <- x, but not in a select.
func (r *rewriter) sendStmt(c *astutil.Cursor, n *ast.SendStmt) {
	if ch, ok := r.typeOf(n.Chan).Underlying().(*types.Chan); ok {
		n.Value = r.into(n.Value, ch.Elem())
	}
	if _, ok := c.Parent().(*ast.CommClause); ok && c.Name() == "Comm" {
		n.Value = callAt(n.Value.Pos(), asElement, n.Chan, n.Value) // the engine does not convert here
		return
	}
	c.Replace(stmtOf(callAt(n.Pos(), sendValue, n.Chan, n.Value)))
}

// enterComm notes the receive of a select clause, which stays as it is.
func (r *rewriter) enterComm(n *ast.CommClause) {
	var e ast.Expr
	switch s := n.Comm.(type) {
	case *ast.ExprStmt:
		e = s.X
	case *ast.AssignStmt:
		e = s.Rhs[0]
	}
	if u, ok := ast.Unparen(e).(*ast.UnaryExpr); ok {
		r.comm[u] = true
	}
}

// selectStmt adds the interrupt to a select that would wait for ever.
func (r *rewriter) selectStmt(n *ast.SelectStmt) {
	for _, s := range n.Body.List {
		if s.(*ast.CommClause).Comm == nil {
			return // it has a default and does not wait
		}
	}
	pos := n.Body.Rbrace
	n.Body.List = append(n.Body.List, &ast.CommClause{
		Case:  pos,
		Comm:  stmtOf(&ast.UnaryExpr{OpPos: pos, Op: token.ARROW, X: callAt(pos, stopSignal)}),
		Colon: pos,
		Body:  []ast.Stmt{stmtOf(callAt(pos, leaveCell))},
	})
}

// rangeChan rewrites "for v := range ch" to
//
//	{ c := ch; for { v, ok := <-c; if !ok { break }; ... } }
func (r *rewriter) rangeChan(c *astutil.Cursor, n *ast.RangeStmt) {
	const ch, ok = hidden + "c", hidden + "ok"
	pos := n.For
	var round []ast.Stmt
	key := n.Key
	if key == nil {
		key = identAt("_", pos)
	}
	get := &ast.AssignStmt{Lhs: []ast.Expr{key, identAt(ok, pos)}, TokPos: pos, Tok: token.DEFINE, Rhs: []ast.Expr{callAt(pos, recvOK, identAt(ch, pos))}}
	if n.Tok == token.ASSIGN && n.Key != nil {
		get.Tok = token.ASSIGN
		round = append(round, define(pos, []string{ok}, identAt("false", pos)))
	}
	round = append(round, get, &ast.IfStmt{
		If: pos, Cond: &ast.UnaryExpr{OpPos: pos, Op: token.NOT, X: identAt(ok, pos)},
		Body: blockAt(pos, pos, &ast.BranchStmt{TokPos: pos, Tok: token.BREAK}),
	}, n.Body)
	b := blockAt(pos, n.End(), define(pos, []string{ch}, n.X), &ast.ForStmt{For: pos, Body: blockAt(n.Body.Lbrace, n.Body.Rbrace, round...)})
	r.loops[b] = true
	c.Replace(b)
}

// waitingCall rewrites the calls of package sync that wait, and those that would end
// the program where nothing is locked.
func (r *rewriter) waitingCall(c *astutil.Cursor, n *ast.CallExpr, f *types.Func) {
	sel, ok := n.Fun.(*ast.SelectorExpr)
	if !ok || f.Signature().Recv() == nil || len(n.Args) != 0 {
		return
	}
	of := namedOf(f.Signature().Recv().Type()).Obj().Name()
	mutex := of == "Mutex" || of == "RWMutex"
	switch f.Name() {
	case "Wait":
		if of == "WaitGroup" {
			r.replace(c, n, callAt(n.Pos(), waitFor, n.Fun))
		}
	case "Lock", "RLock":
		if mutex && isSimple(sel.X) {
			try := *sel
			try.Sel = identAt("Try"+f.Name(), sel.Sel.Pos())
			r.replace(c, n, callAt(n.Pos(), lockUp, &try, n.Fun))
		}
	case "Unlock", "RUnlock":
		if _, statement := c.Parent().(*ast.ExprStmt); statement && mutex && isSimple(sel.X) {
			try, release := *sel, *sel
			try.Sel, release.Sel = identAt("TryLock", sel.Sel.Pos()), identAt("Unlock", sel.Sel.Pos())
			r.replace(c, n, callAt(n.Pos(), unlock, &try, &release, n.Fun))
		}
	}
}

// isSimple reports whether evaluating e twice is the same as once.
func isSimple(e ast.Expr) bool {
	switch e := e.(type) {
	case *ast.Ident:
		return true
	case *ast.ParenExpr:
		return isSimple(e.X)
	case *ast.SelectorExpr:
		return isSimple(e.X)
	case *ast.StarExpr:
		return isSimple(e.X)
	case *ast.UnaryExpr:
		return e.Op == token.AND && isSimple(e.X)
	}
	return false
}
