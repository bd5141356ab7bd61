package interp

import (
	"go/ast"
	"go/token"
	"go/types"

	"golang.org/x/tools/go/ast/astutil"
)

// into converts e to an interface type that it is assigned to, if the engine
// would lose its type on the way.
func (r *rewriter) into(e ast.Expr, to types.Type) ast.Expr {
	if e == nil || to == nil {
		return e
	}
	iface, ok := to.Underlying().(*types.Interface)
	if !ok {
		return e
	}
	from := r.typeOf(e)
	if from == nil || types.Identical(from, to) {
		return e
	}
	if _, ok := from.(*types.Tuple); ok {
		return e
	}
	if b, ok := from.(*types.Basic); ok && b.Kind() == types.UntypedNil {
		return e
	}
	if !types.IsInterface(from) && !mentionsCellType(from) {
		return e
	}
	fn := ""
	switch {
	case iface.Empty():
		fn = toInterface
	case isErrorType(to) && !types.IsInterface(from):
		fn = toError
	case r.isConst(e): // which the engine cannot convert
		fn = oneValue
	default:
		return e
	}
	call := callAt(e.Pos(), fn, e)
	r.types[call] = to
	if fn == oneValue {
		r.types[call] = from
	}
	return call
}

func isErrorType(t types.Type) bool {
	return types.Identical(t, types.Universe.Lookup("error").Type())
}

// assignments converts the right sides of an assignment.
func (r *rewriter) assignments(n *ast.AssignStmt) {
	if n.Tok != token.ASSIGN || len(n.Lhs) != len(n.Rhs) {
		return
	}
	for i, l := range n.Lhs {
		if id, ok := l.(*ast.Ident); ok && id.Name == "_" {
			continue
		}
		n.Rhs[i] = r.into(n.Rhs[i], r.typeOf(l))
	}
}

func (r *rewriter) valueSpec(n *ast.ValueSpec) {
	if n.Type == nil || len(n.Names) != len(n.Values) {
		return
	}
	for i, id := range n.Names {
		if o := r.info.Defs[id]; o != nil {
			if _, isConst := o.(*types.Const); !isConst {
				n.Values[i] = r.into(n.Values[i], o.Type())
			}
		}
	}
}

// returned converts the results of a return statement.
func (r *rewriter) returned(n *ast.ReturnStmt) {
	if len(r.funcs) == 0 {
		return
	}
	sig := r.funcs[len(r.funcs)-1]
	if sig == nil || sig.Results().Len() != len(n.Results) {
		return
	}
	for i := range n.Results {
		n.Results[i] = r.into(n.Results[i], sig.Results().At(i).Type())
	}
}

// arguments converts the arguments of a call. Compiled functions get plain
// values: they may look into them.
func (r *rewriter) arguments(n *ast.CallExpr) {
	if tv, ok := r.info.Types[n.Fun]; ok && tv.IsType() {
		if len(n.Args) == 1 {
			n.Args[0] = r.into(n.Args[0], tv.Type)
		}
		return
	}
	if id, ok := n.Fun.(*ast.Ident); ok {
		if b, ok := r.info.Uses[id].(*types.Builtin); ok {
			r.builtinArguments(b.Name(), n)
			return
		}
	}
	t := r.typeOf(n.Fun)
	if t == nil {
		return
	}
	sig, ok := t.Underlying().(*types.Signature)
	if !ok {
		return
	}
	f := r.callee(n)
	compiled := f != nil && f.Pkg() != nil && f.Pkg().Path() != cellPath
	for i := range n.Args {
		var to types.Type
		switch last := sig.Params().Len() - 1; {
		case sig.Variadic() && i >= last && !n.Ellipsis.IsValid():
			to = sig.Params().At(last).Type().(*types.Slice).Elem()
		case i <= last:
			to = sig.Params().At(i).Type()
		default:
			return
		}
		empty := false
		if it, ok := to.Underlying().(*types.Interface); ok {
			empty = it.Empty()
		}
		if compiled && empty {
			if from := r.typeOf(n.Args[i]); from != nil && types.IsInterface(from) && !keepsBoxes(f) {
				e := callAt(n.Args[i].Pos(), fromBox, n.Args[i])
				r.types[e] = to
				n.Args[i] = e
			}
			continue
		}
		n.Args[i] = r.into(n.Args[i], to)
	}
}

// keepsBoxes reports whether a compiled function does better with boxes.
func keepsBoxes(f *types.Func) bool {
	switch f.Pkg().Path() {
	case "fmt", "log", "errors", "encoding/json":
		return true
	}
	return f.Signature().Recv() != nil // a method of a compiled type, which may only keep it
}

// builtinArguments converts the arguments of append, and of delete on a map
// with interface keys.
func (r *rewriter) builtinArguments(name string, n *ast.CallExpr) {
	switch name {
	case "append":
		if n.Ellipsis.IsValid() {
			return
		}
		if s, ok := r.typeOf(n).Underlying().(*types.Slice); ok {
			for i := range n.Args[1:] {
				n.Args[i+1] = r.into(n.Args[i+1], s.Elem())
			}
		}
	case "delete":
		if m, ok := r.typeOf(n.Args[0]).Underlying().(*types.Map); ok {
			n.Args[1] = r.into(n.Args[1], m.Key())
		}
	}
}

// elements converts the elements of a composite literal.
func (r *rewriter) elements(n *ast.CompositeLit) {
	t := r.typeOf(n)
	if t == nil {
		return
	}
	if p, ok := t.Underlying().(*types.Pointer); ok {
		t = p.Elem()
	}
	var elem, key types.Type
	switch u := t.Underlying().(type) {
	case *types.Slice:
		elem = u.Elem()
	case *types.Array:
		elem = u.Elem()
	case *types.Map:
		elem, key = u.Elem(), u.Key()
	case *types.Struct:
		for i, e := range n.Elts {
			if kv, ok := e.(*ast.KeyValueExpr); ok {
				if id, ok := kv.Key.(*ast.Ident); ok {
					if v, ok := r.info.Uses[id].(*types.Var); ok && r.in.back[v] == nil {
						kv.Value = r.into(kv.Value, v.Type())
					}
				}
			} else if i < u.NumFields() && r.in.back[u.Field(i)] == nil {
				n.Elts[i] = r.into(e, u.Field(i).Type())
			}
		}
		return
	default:
		return
	}
	for i, e := range n.Elts {
		if kv, ok := e.(*ast.KeyValueExpr); ok {
			kv.Value = r.into(kv.Value, elem)
			if key != nil {
				kv.Key = r.into(kv.Key, key)
			}
		} else {
			n.Elts[i] = r.into(e, elem)
		}
	}
}

// comparison rewrites == and != on interfaces, but for comparing with nil.
func (r *rewriter) comparison(c *astutil.Cursor, n *ast.BinaryExpr) {
	if n.Op != token.EQL && n.Op != token.NEQ || r.isNil(n.X) || r.isNil(n.Y) {
		return
	}
	x, y := r.typeOf(n.X), r.typeOf(n.Y)
	if x == nil || y == nil || !types.IsInterface(x) && !types.IsInterface(y) {
		return
	}
	var e ast.Expr = callAt(n.Pos(), equal, n.X, n.Y)
	if n.Op == token.NEQ {
		e = &ast.UnaryExpr{OpPos: n.Pos(), Op: token.NOT, X: e}
	}
	r.replace(c, n, e)
}

func (r *rewriter) isNil(e ast.Expr) bool {
	tv, ok := r.info.Types[e]
	return ok && tv.IsNil()
}

// switchStmt rewrites a switch on an interface to one on comparisons.
func (r *rewriter) switchStmt(c *astutil.Cursor, n *ast.SwitchStmt) {
	if n.Tag == nil {
		return
	}
	t := r.typeOf(n.Tag)
	if t == nil || !types.IsInterface(t) {
		return
	}
	const tag = hidden + "tag"
	pos := n.Switch
	for _, s := range n.Body.List {
		cc := s.(*ast.CaseClause)
		for i, e := range cc.List {
			if r.isNil(e) {
				cc.List[i] = &ast.BinaryExpr{X: identAt(tag, e.Pos()), OpPos: e.Pos(), Op: token.EQL, Y: e}
			} else {
				cc.List[i] = callAt(e.Pos(), equal, identAt(tag, e.Pos()), e)
			}
		}
	}
	var list []ast.Stmt
	if n.Init != nil {
		list = append(list, n.Init)
	}
	list = append(list, define(pos, []string{tag}, n.Tag), &ast.SwitchStmt{Switch: pos, Body: n.Body})
	b := blockAt(pos, n.End(), list...)
	r.loops[b] = true
	c.Replace(b)
}

// assertion rewrites x.(T).
func (r *rewriter) assertion(c *astutil.Cursor, n *ast.TypeAssertExpr) {
	if n.Type == nil {
		return // of a type switch
	}
	fn := taken
	if _, both := r.typeOf(n).(*types.Tuple); both {
		fn = takenOK
	}
	r.replace(c, n, callAt(n.Pos(), fn, n.X, n.Type))
}

// typeSwitch rewrites a type switch to one on questions what the interface
// holds.
func (r *rewriter) typeSwitch(c *astutil.Cursor, n *ast.TypeSwitchStmt) {
	const held = hidden + "x"
	pos := n.Switch
	var x ast.Expr
	name := ""
	switch a := n.Assign.(type) {
	case *ast.ExprStmt:
		x = a.X.(*ast.TypeAssertExpr).X
	case *ast.AssignStmt:
		x = a.Rhs[0].(*ast.TypeAssertExpr).X
		name = a.Lhs[0].(*ast.Ident).Name
	}
	sw := &ast.SwitchStmt{Switch: pos, Body: &ast.BlockStmt{Lbrace: n.Body.Lbrace, Rbrace: n.Body.Rbrace}}
	for _, s := range n.Body.List {
		cc := s.(*ast.CaseClause)
		out := &ast.CaseClause{Case: cc.Case, Colon: cc.Colon, Body: cc.Body}
		for _, t := range cc.List {
			p := t.Pos()
			if r.isNil(t) {
				out.List = append(out.List, &ast.BinaryExpr{X: identAt(held, p), OpPos: p, Op: token.EQL, Y: t})
			} else {
				out.List = append(out.List, callAt(p, holds, identAt(held, p), t))
			}
		}
		if name != "" && name != "_" && len(cc.Body) > 0 {
			p := cc.Body[0].Pos()
			var v ast.Expr = identAt(held, p)
			if len(cc.List) == 1 && !r.isNil(cc.List[0]) {
				v = callAt(p, taken, v, cc.List[0])
			}
			out.Body = append([]ast.Stmt{define(p, []string{name}, v)}, cc.Body...)
		}
		sw.Body.List = append(sw.Body.List, out)
	}
	var list []ast.Stmt
	if n.Init != nil {
		list = append(list, n.Init)
	}
	list = append(list, define(pos, []string{held}, x), sw)
	b := blockAt(pos, n.End(), list...)
	r.loops[b] = true
	c.Replace(b)
}

// sliced gives a part of a slice of a named type that type again.
func (r *rewriter) sliced(c *astutil.Cursor, n *ast.SliceExpr) {
	t := r.typeOf(n)
	if t == nil || n.X == nil {
		return
	}
	if _, ok := types.Unalias(t).(*types.Named); !ok || !mentionsCellType(t) || !types.Identical(t, r.typeOf(n.X)) {
		return
	}
	r.replace(c, n, callAt(n.Pos(), sameType, n.X, n))
}

// mapIndex converts the key of m[k].
func (r *rewriter) mapIndex(n *ast.IndexExpr) {
	if t := r.typeOf(n.X); t != nil {
		if m, ok := t.Underlying().(*types.Map); ok {
			n.Index = r.into(n.Index, m.Key())
		}
	}
}
