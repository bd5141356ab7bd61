package interp

import (
	"go/ast"
	"go/token"

	"github.com/cosmos72/gomacro/fast"
	xr "github.com/cosmos72/gomacro/xreflect"
)

// scopes remembers where the engine put the variables of each block, so that a
// failure can be explained by their values. Blocks tell it when they are
// compiled; it costs nothing when they run.
type scopes struct {
	list []scope
}

type scope struct {
	from, to token.Pos
	comp     *fast.Comp
}

const scopeMark = hidden + "scope"

// mark puts the call that tells of a block at the start of its statements.
func (r *rewriter) mark(n ast.Node, list *[]ast.Stmt) {
	if len(*list) == 0 {
		return
	}
	call := callAt((*list)[0].Pos(), scopeMark)
	r.in.hints[call] = n
	out := []ast.Stmt{stmtOf(call)}
	for _, s := range *list {
		if r.callsCompiled(s) {
			out = append(out, stmtOf(callAt(s.Pos(), stopCheck)))
		}
		out = append(out, s)
	}
	*list = out
}

func (in *Interp) compileScope(c *fast.Comp, call *ast.CallExpr) *fast.Call {
	n := in.hints[call].(ast.Node)
	in.scopes.list = append(in.scopes.list, scope{n.Pos(), n.End(), c})
	return effect(c, nil)
}

// at returns the compiler of the innermost block around pos, or nil.
func (s *scopes) at(pos token.Pos) *fast.Comp {
	var best *scope
	for i := len(s.list) - 1; i >= 0; i-- {
		sc := &s.list[i]
		if sc.from <= pos && pos < sc.to && (best == nil || sc.from >= best.from) {
			best = sc
		}
	}
	if best == nil {
		return nil
	}
	return best.comp
}

// variables finds the values that names have at one place of a stopped cell.
type variables struct {
	comp *fast.Comp
	env  *fast.Env
}

// variablesAt returns the variables visible at pos, where env is active, or
// false if it is not certain that env belongs there.
func (in *Interp) variablesAt(pos token.Pos, env *fast.Env) (variables, bool) {
	if env == nil {
		return variables{}, false
	}
	c := in.scopes.at(pos)
	if c == nil {
		c = in.ir.Comp
	}
	hops := 0
	for o := c; o != in.ir.Comp; o = o.Outer {
		if o == nil {
			return variables{}, false
		}
		hops += o.UpCost
	}
	e := env
	for range hops {
		if e = e.Outer; e == nil {
			return variables{}, false
		}
	}
	return variables{c, env}, e == env.FileEnv
}

// lookup returns the value of a variable and its type.
func (v variables) lookup(name string) (val xr.Value, t xr.Type, ok bool) {
	c, e := v.comp, v.env
	for c != nil && e != nil {
		if b := c.Binds[name]; b != nil {
			switch b.Desc.Class() {
			case fast.VarBind, fast.IntBind, fast.ConstBind:
				if b.Desc.Class() != fast.ConstBind && (b.Desc.Index() < 0 || b.Desc.Class() == fast.VarBind && b.Desc.Index() >= len(e.Vals)) {
					return xr.Value{}, nil, false
				}
				return b.RuntimeValue(c.CompGlobals, e), b.Type, true
			}
			return xr.Value{}, nil, false
		}
		for range c.UpCost {
			if e != nil {
				e = e.Outer
			}
		}
		c = c.Outer
	}
	return xr.Value{}, nil, false
}
