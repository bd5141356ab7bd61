package interp

import (
	"fmt"
	"go/ast"
	"reflect"

	"github.com/cosmos72/gomacro/fast"
	xr "github.com/cosmos72/gomacro/xreflect"
)

// Names that rewritten cells call. The letters before them cannot begin a
// name in a cell by accident; they are hidden from completion.
const hidden = "ꟷ"

const depthGuard = hidden + "enter"

// maxDepth is the deepest nesting of interpreted calls.
const maxDepth = 20_000

// compileHook compiles a call of a builtin.
type compileHook func(c *fast.Comp, sym fast.Symbol, call *ast.CallExpr) *fast.Call

func (in *Interp) declBuiltin(name string, least, most uint16, f compileHook) {
	in.ir.Comp.TopComp().DeclBuiltin0(name, fast.Builtin{Compile: f, ArgMin: least, ArgMax: most})
}

// constantFunc is the expression of a compiled function.
func constantFunc(t xr.Type, f any) *fast.Expr {
	v := xr.ValueOf(f)
	return &fast.Expr{Lit: fast.Lit{Type: t}, Fun: func(*fast.Env) xr.Value { return v }}
}

func (in *Interp) addBuiltins() {
	in.declBuiltin(depthGuard, 0, 0, compileDepthGuard)
}

// compileDepthGuard emits the check as a statement and leaves a constant that
// the engine drops.
func compileDepthGuard(c *fast.Comp, sym fast.Symbol, call *ast.CallExpr) *fast.Call {
	c.Append(func(env *fast.Env) (fast.Stmt, *fast.Env) {
		if env.CallDepth > maxDepth {
			panic(errTooDeep)
		}
		env.IP++
		return env.Code[env.IP], env
	}, c.Pos)
	ti := c.Universe.BasicTypes[reflect.Int]
	return &fast.Call{
		Fun:      constantFunc(c.Universe.FuncOf(nil, []xr.Type{ti}, false), func() int { return 0 }),
		OutTypes: []xr.Type{ti}, Const: true,
	}
}

var errTooDeep = fmt.Errorf("more than %d calls inside one another", maxDepth)
