package interp

import (
	"errors"
	"go/ast"
	"go/token"
	"go/types"
	"reflect"

	"github.com/cosmos72/gomacro/fast"
	"golang.org/x/tools/go/ast/astutil"

	"rotorhum/kernel/show"
)

// Go goes through a map in another order each time. Cells go through it in the
// order of its keys, in which fmt prints it, too: Go leaves the order open, and a
// result must not depend on chance.

const (
	mapKeys  = hidden + "keys"
	loopMap  = hidden + "m"
	loopKey  = hidden + "k"
	loopHere = hidden + "here" // whether the key is still in the map
)

// rangeMap rewrites "for k, v := range m { ... }" to
//
//	{ m := m; for _, key := range keys(m) { v, here := m[key]
//	    if !here { continue }
//	    k := key; { ... } } }
//
// An entry that the loop removes before its turn does not get one.
func (r *rewriter) rangeMap(c *astutil.Cursor, n *ast.RangeStmt, t *types.Map) {
	if unnamed(n.Key) && unnamed(n.Value) {
		return // the order does not show
	}
	if !orderly(t.Key()) {
		r.in.varies("it goes through a map whose keys have no order, which Go does differently each time")
		return
	}
	pos := n.For
	at := func(name string) ast.Expr { return identAt(name, pos) }
	entry := &ast.IndexExpr{X: at(loopMap), Lbrack: pos, Index: at(loopKey), Rbrack: pos}
	assign := func(to ast.Expr, tok token.Token, from ast.Expr) ast.Stmt {
		return &ast.AssignStmt{Lhs: []ast.Expr{to}, TokPos: pos, Tok: tok, Rhs: []ast.Expr{from}}
	}
	round := []ast.Stmt{
		&ast.AssignStmt{Lhs: []ast.Expr{at("_"), at(loopHere)}, TokPos: pos, Tok: token.DEFINE, Rhs: []ast.Expr{entry}},
		&ast.IfStmt{
			If: pos, Cond: &ast.UnaryExpr{OpPos: pos, Op: token.NOT, X: at(loopHere)},
			Body: blockAt(pos, pos, &ast.BranchStmt{TokPos: pos, Tok: token.CONTINUE}),
		},
	}
	if !unnamed(n.Key) {
		round = append(round, assign(n.Key, n.Tok, at(loopKey)))
	}
	if !unnamed(n.Value) {
		again := *entry
		value := ast.Expr(&again)
		r.types[value] = t.Elem()
		round = append(round, assign(n.Value, n.Tok, callAt(pos, oneValue, value)))
	}
	loop := &ast.RangeStmt{
		For: pos, Key: at("_"), Value: at(loopKey), TokPos: pos, Tok: token.DEFINE, Range: n.Range,
		X:    callAt(pos, mapKeys, at(loopMap)),
		Body: blockAt(n.Body.Lbrace, n.Body.Rbrace, append(round, n.Body)...),
	}
	b := blockAt(pos, n.End(), define(pos, []string{loopMap}, n.X), loop)
	r.loops[b] = true
	c.Replace(b)
}

func unnamed(e ast.Expr) bool {
	if e == nil {
		return true
	}
	id, ok := e.(*ast.Ident)
	return ok && id.Name == "_"
}

// orderly reports whether values of a type have one order in every session.
func orderly(t types.Type) bool {
	switch u := t.Underlying().(type) {
	case *types.Basic:
		return u.Info()&(types.IsOrdered|types.IsBoolean) != 0
	case *types.Array:
		return orderly(u.Elem())
	case *types.Struct:
		for f := range u.Fields() {
			if !orderly(f.Type()) {
				return false
			}
		}
		return true
	}
	return false
}

var errNaNKey = errors.New("NaN is among the keys of this map: a loop cannot find its entry again; leave NaN out when you fill the map")

func compileMapKeys(c *fast.Comp, call *ast.CallExpr) *fast.Call {
	m := c.Expr1(call.Args[0], nil)
	out := c.Universe.SliceOf(m.Type.Key())
	return valueFunc(c, m, out, func(v reflect.Value) reflect.Value {
		keys := show.SortedKeys(v)
		list := reflect.MakeSlice(out.ReflectType(), len(keys), len(keys))
		for i, k := range keys {
			if k.CanFloat() && k.Float() != k.Float() {
				panic(&failure{errNaNKey})
			}
			list.Index(i).Set(k)
		}
		return list
	})
}
