package interp

import (
	"go/ast"
	"go/token"
	"go/types"

	"golang.org/x/tools/go/ast/astutil"

	"rotorhum/kernel/interp/typing"
)

// The engine knows the loops of Go 1.13: one variable for all rounds, and no
// range over a number.

const (
	loopCount = hidden + "n"     // the number a loop counts up to
	loopIndex = hidden + "i"     // the count itself
	loopLast  = hidden + "last"  // the address of the variables of the last round
	loopFirst = hidden + "first" // whether this is the first round
)

// rangeLoop rewrites a range statement.
func (r *rewriter) rangeLoop(c *astutil.Cursor, n *ast.RangeStmt) {
	t := r.typeOf(n.X)
	if t == nil {
		return
	}
	if typing.IsSequence(t) { // a slice, whose elements take the place of the keys
		n.Key, n.Value = identAt("_", n.For), n.Key
		if n.Value == nil {
			n.Key = nil
		}
	}
	switch u := t.Underlying().(type) {
	case *types.Basic:
		if u.Info()&types.IsInteger != 0 {
			r.rangeInt(c, n, t)
			return
		}
	case *types.Chan:
		r.rangeChan(c, n)
		return
	case *types.Map:
		r.rangeMap(c, n, u)
		if c.Node() != n {
			return
		}
	case *types.Pointer: // to an array: the engine would copy it first
		n.X = &ast.SliceExpr{X: &ast.ParenExpr{X: &ast.StarExpr{Star: n.X.Pos(), X: n.X}}, Lbrack: n.X.End(), Rbrack: n.X.End()}
	}
	if n.Tok == token.DEFINE {
		for _, v := range identNames(n.Key, n.Value) {
			if kept, _ := useOf(n.Body, v); kept {
				n.Body.List = append([]ast.Stmt{define(n.Body.Lbrace, []string{v}, identAt(v, n.Body.Lbrace))}, n.Body.List...)
			}
		}
	}
}

// rangeInt rewrites "for k := range n" to
//
//	{ n := n; for i := n - n; i < n; i++ { k := i; ... } }
//
// The copy is left out where the body only reads k.
func (r *rewriter) rangeInt(c *astutil.Cursor, n *ast.RangeStmt, t types.Type) {
	pos := n.For
	limit := n.X
	if r.isConst(limit) {
		if k, ok := n.Key.(*ast.Ident); ok && k.Name != "_" {
			if kt := r.identType(k); kt != nil {
				t = kt
			}
		}
		if b, ok := types.Default(t).(*types.Basic); ok {
			limit = callAt(limit.Pos(), b.Name(), limit)
		}
	}
	index := loopIndex
	var copyKey ast.Stmt
	if k, ok := n.Key.(*ast.Ident); ok && k.Name != "_" || n.Key != nil && n.Tok == token.ASSIGN {
		if n.Tok == token.DEFINE {
			if kept, assigned := useOf(n.Body, k.Name); kept || assigned || declares(n.Body, k.Name) {
				copyKey = define(n.Body.Lbrace, []string{k.Name}, identAt(loopIndex, pos))
			} else {
				index = k.Name
			}
		} else {
			copyKey = &ast.AssignStmt{Lhs: []ast.Expr{n.Key}, TokPos: pos, Tok: token.ASSIGN, Rhs: []ast.Expr{identAt(loopIndex, pos)}}
		}
	}
	body := n.Body
	if copyKey != nil {
		body = blockAt(body.Lbrace, body.Rbrace, copyKey, n.Body)
	}
	loop := &ast.ForStmt{
		For:  pos,
		Init: define(pos, []string{index}, &ast.BinaryExpr{X: identAt(loopCount, pos), OpPos: pos, Op: token.SUB, Y: identAt(loopCount, pos)}),
		Cond: &ast.BinaryExpr{X: identAt(index, pos), OpPos: pos, Op: token.LSS, Y: identAt(loopCount, pos)},
		Post: &ast.IncDecStmt{X: identAt(index, pos), TokPos: pos, Tok: token.INC},
		Body: body,
	}
	b := blockAt(pos, n.End(), define(pos, []string{loopCount}, limit), loop)
	r.loops[b] = true
	c.Replace(b)
}

func (r *rewriter) identType(id *ast.Ident) types.Type {
	if o := r.info.Defs[id]; o != nil {
		return o.Type()
	}
	return r.info.TypeOf(id)
}

// forLoop gives each round of a three-part loop its own variables where a
// closure or an address keeps them beyond the round. If the body leaves them
// alone, a copy at its start is enough; else the loop becomes
//
//	{ i := init; last := &i
//	  for first := true; ; { i := *last; last = &i
//	      if first { first = false } else { post }
//	      if !cond { break }
//	      body } }
func (r *rewriter) forLoop(c *astutil.Cursor, n *ast.ForStmt) {
	init, ok := n.Init.(*ast.AssignStmt)
	if !ok || init.Tok != token.DEFINE {
		return
	}
	vars := identNames(init.Lhs...)
	head := &ast.BlockStmt{}
	if n.Cond != nil {
		head.List = append(head.List, stmtOf(n.Cond))
	}
	if n.Post != nil {
		head.List = append(head.List, n.Post)
	}
	var kept, assigned bool
	var copies []ast.Stmt
	for _, v := range vars {
		k, a := useOf(n.Body, v)
		headKept, _ := useOf(head, v)
		if headKept {
			k, a = true, true
		}
		if k {
			copies = append(copies, define(n.Body.Lbrace, []string{v}, identAt(v, n.Body.Lbrace)))
		}
		kept, assigned = kept || k, assigned || k && a
	}
	if !kept {
		return
	}
	if !assigned {
		n.Body.List = append(copies, n.Body.List...)
		return
	}
	pos := n.For
	outer := []ast.Stmt{init}
	var round []ast.Stmt
	for _, v := range vars {
		last := loopLast + v
		addr := func() ast.Expr { return &ast.UnaryExpr{OpPos: pos, Op: token.AND, X: identAt(v, pos)} }
		outer = append(outer, define(pos, []string{last}, addr()))
		round = append(round,
			define(pos, []string{v}, &ast.StarExpr{Star: pos, X: identAt(last, pos)}),
			&ast.AssignStmt{Lhs: []ast.Expr{identAt(last, pos)}, TokPos: pos, Tok: token.ASSIGN, Rhs: []ast.Expr{addr()}})
	}
	started := blockAt(pos, pos, &ast.AssignStmt{
		Lhs: []ast.Expr{identAt(loopFirst, pos)}, TokPos: pos, Tok: token.ASSIGN, Rhs: []ast.Expr{identAt("false", pos)},
	})
	step := &ast.IfStmt{If: pos, Cond: identAt(loopFirst, pos), Body: started}
	if n.Post != nil {
		step.Else = blockAt(pos, pos, n.Post)
	}
	round = append(round, step)
	if n.Cond != nil {
		round = append(round, &ast.IfStmt{
			If:   pos,
			Cond: &ast.UnaryExpr{OpPos: pos, Op: token.NOT, X: &ast.ParenExpr{Lparen: pos, X: n.Cond, Rparen: pos}},
			Body: blockAt(pos, pos, &ast.BranchStmt{TokPos: pos, Tok: token.BREAK}),
		})
	}
	round = append(round, n.Body)
	loop := &ast.ForStmt{
		For:  pos,
		Init: define(pos, []string{loopFirst}, identAt("true", pos)),
		Body: blockAt(n.Body.Lbrace, n.Body.Rbrace, round...),
	}
	b := blockAt(pos, n.End(), append(outer, loop)...)
	r.loops[b] = true
	c.Replace(b)
}

// labelled moves the label of a loop that has become a block to the loop
// inside.
func (r *rewriter) labelled(c *astutil.Cursor, n *ast.LabeledStmt) {
	b, ok := n.Stmt.(*ast.BlockStmt)
	if !ok || !r.loops[b] {
		return
	}
	end := len(b.List) - 1
	b.List[end] = &ast.LabeledStmt{Label: n.Label, Colon: n.Colon, Stmt: b.List[end]}
	r.loops[b] = false
	c.Replace(b)
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

// declares reports whether the outermost statements of a body declare v.
func declares(body *ast.BlockStmt, v string) bool {
	for _, s := range body.List {
		if a, ok := s.(*ast.AssignStmt); ok && a.Tok == token.DEFINE {
			for _, n := range identNames(a.Lhs...) {
				if n == v {
					return true
				}
			}
		}
	}
	return false
}

// useOf reports whether body keeps variable v beyond the round, in a closure
// or by its address, and whether it assigns to it.
func useOf(body *ast.BlockStmt, v string) (kept, assigned bool) {
	isV := func(e ast.Expr) bool {
		for {
			switch x := e.(type) {
			case *ast.ParenExpr:
				e = x.X
			case *ast.Ident:
				return x.Name == v
			case *ast.SelectorExpr: // part of a struct or array variable
				e = x.X
			case *ast.IndexExpr:
				e = x.X
			default:
				return false
			}
		}
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
			case *ast.SliceExpr: // slicing an array takes its address
				kept = kept || isV(m.X)
			case *ast.SelectorExpr: // a method may take the address
				if isV(m.X) {
					kept, assigned = true, true
				}
			case *ast.AssignStmt:
				if m.Tok != token.DEFINE {
					for _, l := range m.Lhs {
						assigned = assigned || isV(l)
					}
				}
			case *ast.IncDecStmt:
				assigned = assigned || isV(m.X)
			case *ast.RangeStmt:
				if m.Tok == token.ASSIGN {
					assigned = assigned || m.Key != nil && isV(m.Key) || m.Value != nil && isV(m.Value)
				}
			case *ast.Ident:
				kept = kept || inClosure && m.Name == v
			}
			return true
		})
	}
	walk(body, false)
	return kept, assigned
}
