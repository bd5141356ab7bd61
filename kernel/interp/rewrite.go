package interp

import (
	"go/ast"
	"go/token"
	"go/types"

	"golang.org/x/tools/go/ast/astutil"
)

// rewriter changes checked syntax trees so that the engine, which speaks an
// older Go and has gaps, runs them as Go means them. It works from the leaves
// up; the types of all expressions are known.
type rewriter struct {
	in    *Interp
	info  *types.Info
	types map[ast.Expr]types.Type // of the expressions that were put in
	loops map[*ast.BlockStmt]bool // blocks that stand for a loop
	comm  map[*ast.UnaryExpr]bool // the receives of select clauses
	funcs []*types.Signature      // of the enclosing function bodies
}

func (in *Interp) newRewriter(info *types.Info) *rewriter {
	return &rewriter{in: in, info: info, types: map[ast.Expr]types.Type{}, loops: map[*ast.BlockStmt]bool{}, comm: map[*ast.UnaryExpr]bool{}}
}

// node rewrites a top-level node.
func (r *rewriter) node(n ast.Node) ast.Node {
	return astutil.Apply(n, r.enter, r.leave)
}

func (r *rewriter) enter(c *astutil.Cursor) bool {
	switch n := c.Node().(type) {
	case *ast.FuncDecl:
		f, _ := r.info.Defs[n.Name].(*types.Func)
		if f == nil { // a method of a type of an earlier cell
			r.funcs = append(r.funcs, r.in.view.Signature(n.Type))
		} else {
			r.funcs = append(r.funcs, f.Signature())
		}
	case *ast.FuncLit:
		sig, _ := r.typeOf(n).(*types.Signature)
		r.funcs = append(r.funcs, sig)
	case *ast.TypeSpec:
		r.declareType(n)
	case *ast.CommClause:
		r.enterComm(n)
	}
	return true
}

func (r *rewriter) leave(c *astutil.Cursor) bool {
	switch n := c.Node().(type) {
	case *ast.FuncDecl:
		r.funcs = r.funcs[:len(r.funcs)-1]
		guardBody(n.Body)
	case *ast.FuncLit:
		r.funcs = r.funcs[:len(r.funcs)-1]
		guardBody(n.Body)
	case *ast.BlockStmt:
		switch c.Parent().(type) {
		case *ast.SwitchStmt, *ast.TypeSwitchStmt, *ast.SelectStmt:
		default:
			r.mark(n, &n.List)
		}
	case *ast.CaseClause:
		r.mark(n, &n.Body)
	case *ast.CommClause:
		r.mark(n, &n.Body)
	case *ast.RangeStmt:
		r.rangeLoop(c, n)
	case *ast.ForStmt:
		r.forLoop(c, n)
	case *ast.LabeledStmt:
		r.labelled(c, n)
	case *ast.GoStmt:
		r.goStmt(c, n)
	case *ast.DeferStmt:
		r.deferStmt(c, n)
	case *ast.SelectStmt:
		r.selectStmt(n)
	case *ast.SendStmt:
		r.sendStmt(c, n)
	case *ast.UnaryExpr:
		r.receive(c, n)
	case *ast.SelectorExpr:
		r.selector(c, n)
	case *ast.CallExpr:
		r.call(c, n)
	case *ast.ExprStmt:
		if c.Index() >= 0 { // in a block
			r.printStmt(n)
		}
	case *ast.AssignStmt:
		r.assignments(n)
	case *ast.ValueSpec:
		r.valueSpec(n)
	case *ast.ReturnStmt:
		r.returned(n)
	case *ast.CompositeLit:
		r.elements(n)
		r.lookAtLiteral(n)
	case *ast.BinaryExpr:
		r.comparison(c, n)
	case *ast.SwitchStmt:
		r.switchStmt(c, n)
	case *ast.TypeSwitchStmt:
		r.typeSwitch(c, n)
	case *ast.TypeAssertExpr:
		r.assertion(c, n)
	case *ast.SliceExpr:
		r.sliced(c, n)
	case *ast.IndexExpr:
		r.mapIndex(n)
	}
	return true
}

// typeOf returns the type of an expression, or nil.
func (r *rewriter) typeOf(e ast.Expr) types.Type {
	if t := r.types[e]; t != nil {
		return t
	}
	return r.info.TypeOf(e)
}

// isConst reports whether the value of e is known before the cell runs.
func (r *rewriter) isConst(e ast.Expr) bool {
	tv, ok := r.info.Types[e]
	return ok && (tv.Value != nil || tv.IsNil())
}

// replace puts an expression in the place of another one of the same type.
func (r *rewriter) replace(c *astutil.Cursor, old, with ast.Expr) {
	r.types[with] = r.typeOf(old)
	c.Replace(with)
}

func identAt(name string, pos token.Pos) *ast.Ident { return &ast.Ident{Name: name, NamePos: pos} }

func callAt(pos token.Pos, fn string, args ...ast.Expr) *ast.CallExpr {
	return &ast.CallExpr{Fun: identAt(fn, pos), Lparen: pos, Args: args, Rparen: pos}
}

func stmtOf(e ast.Expr) ast.Stmt { return &ast.ExprStmt{X: e} }

func define(pos token.Pos, names []string, values ...ast.Expr) ast.Stmt {
	s := &ast.AssignStmt{TokPos: pos, Tok: token.DEFINE, Rhs: values}
	for _, n := range names {
		s.Lhs = append(s.Lhs, identAt(n, pos))
	}
	return s
}

func blockAt(pos, end token.Pos, list ...ast.Stmt) *ast.BlockStmt {
	return &ast.BlockStmt{Lbrace: pos, List: list, Rbrace: end}
}

// closure is func() { list }.
func closure(pos token.Pos, list ...ast.Stmt) *ast.FuncLit {
	return &ast.FuncLit{
		Type: &ast.FuncType{Func: pos, Params: &ast.FieldList{Opening: pos, Closing: pos}},
		Body: blockAt(pos, pos, list...),
	}
}

// guardBody makes a function check, when it is entered, that calls are not
// nested too deeply: running out of stack would end the whole process. A
// function that defers something also notes, last of all, where a panic came
// from, because unwinding loses that.
func guardBody(body *ast.BlockStmt) {
	if body == nil {
		return
	}
	pos := body.Lbrace
	if len(body.List) > 0 {
		pos = body.List[0].Pos()
	}
	first := []ast.Stmt{stmtOf(callAt(pos, depthGuard))}
	if defers(body) {
		first = append(first, &ast.DeferStmt{Defer: pos, Call: &ast.CallExpr{
			Fun: closure(pos, stmtOf(callAt(pos, notePanic))), Lparen: pos, Rparen: pos,
		}})
	}
	body.List = append(first, body.List...)
}

// defers reports whether a function body has a defer statement of its own.
func defers(body *ast.BlockStmt) (found bool) {
	ast.Inspect(body, func(n ast.Node) bool {
		switch n.(type) {
		case *ast.FuncLit:
			return false
		case *ast.DeferStmt:
			found = true
		}
		return !found
	})
	return found
}
