package interp

import (
	"fmt"
	"go/ast"
	"go/build"
	"go/token"
	"io"
	"maps"
	"strconv"

	"github.com/cosmos72/gomacro/ast2"
	"github.com/cosmos72/gomacro/base"
	breflect "github.com/cosmos72/gomacro/base/reflect"
	"github.com/cosmos72/gomacro/fast"
	xr "github.com/cosmos72/gomacro/xreflect"
	"github.com/gopherdata/gophernotes/imports"
)

// newEngine makes the gomacro interpreter that runs the cells.
//
// Left alone, gomacro looks for Go's source tree and toolchain when it starts
// and again for every import; with no GOROOT to look in and an importer that
// knows the registered packages only, it starts sixty times faster and runs on
// machines without Go.
func newEngine() *fast.Interp {
	goroot := build.Default.GOROOT
	build.Default.GOROOT = ""
	ir := fast.New()
	build.Default.GOROOT = goroot
	c := ir.Comp
	c.Universe.Importer = &xr.Importer{}
	c.Options &^= base.OptTrapPanic | base.OptShowPrompt | base.OptModuleImport
	c.Options |= base.OptDebugger               // keeps function names and positions for call stacks
	c.Stdout, c.Stderr = io.Discard, io.Discard // its remarks on names declared again
	top := c.TopComp()
	for _, name := range []string{
		"Interp", "Eval", "EvalKeepUntyped", "EvalType",
		"MacroExpand", "MacroExpand1", "MacroExpandCodeWalk", "Parse",
	} {
		delete(top.Binds, name)
	}
	return ir
}

// names is what the engine knows by name at one moment.
type names struct {
	comp  fast.CompBinds
	binds map[string]*fast.Bind
	types map[string]xr.Type
}

func remember(c *fast.Comp) names {
	return names{c.CompBinds, maps.Clone(c.Binds), maps.Clone(c.Types)}
}

// restore undoes what compiling has declared since n was taken.
func (n names) restore(c *fast.Comp) {
	c.CompBinds = n.comp
	c.Binds = maps.Clone(n.binds)
	c.Types = maps.Clone(n.types)
	c.Code.Clear()
}

// forget undoes the declaration of name since n was taken.
func (n names) forget(c *fast.Comp, name string) {
	if b := n.binds[name]; b != nil {
		c.Binds[name] = b
	} else {
		delete(c.Binds, name)
	}
	if t := n.types[name]; t != nil {
		c.Types[name] = t
	} else {
		delete(c.Types, name)
	}
}

// unit is one piece of a cell, compiled.
type unit struct {
	node ast.Node // nil if several
	expr *fast.Expr
}

// compileError is what stopped the engine's compiler.
type compileError struct {
	pos token.Pos
	msg string
}

// compile turns a top-level node, or several declarations, into a unit. It
// panics with *compileError.
func compile(ir *fast.Interp, nodes ...ast.Node) (u unit) {
	c := ir.Comp
	defer func() {
		switch r := recover().(type) {
		case nil:
		case error: // now: the text depends on what c.Pos is
			panic(&compileError{c.Pos, r.Error()})
		default:
			panic(&compileError{c.Pos, fmt.Sprint(r)})
		}
	}()
	c.Pos = nodes[0].Pos()
	if len(nodes) > 1 {
		return unit{nil, ir.CompileAst(ast2.AnyToAst(nodes, "cell"))}
	}
	form := nodes[0]
	if s, ok := form.(*ast.ExprStmt); ok {
		form = s.X
	}
	return unit{nodes[0], ir.CompileAst(ast2.AnyToAst(form, "cell"))}
}

// run executes a compiled unit and returns its values.
func (u unit) run(env *fast.Env) ([]xr.Value, []xr.Type) {
	if u.expr == nil {
		return nil, nil
	}
	if u.expr.Untyped() {
		u.expr.ConstTo(u.expr.DefaultType())
	}
	v, vs := u.expr.AsXV(fast.COptKeepUntyped)(env)
	return breflect.PackValues(v, vs), breflect.PackTypes(u.expr.Type, u.expr.Types)
}

// quiesce puts a run back to rest after a panic has unwound it.
func quiesce(run *fast.Run) {
	run.CurrEnv = nil
	run.Signals = base.Signals{}
	run.ExecFlags = 0
	run.Interrupt = nil
	run.InstallDefer = nil
	run.DeferOfFun = nil
	run.PanicFun = nil
	run.Panic = nil
}

// importsOf lists the import declarations of a node.
func importsOf(n ast.Node) []*ast.ImportSpec {
	d, ok := n.(*ast.GenDecl)
	if !ok || d.Tok != token.IMPORT {
		return nil
	}
	var out []*ast.ImportSpec
	for _, s := range d.Specs {
		out = append(out, s.(*ast.ImportSpec))
	}
	return out
}

// checkImport reports whether the package of s is linked into this program.
// The engine must never be asked for any other: it would try to download it.
func checkImport(s *ast.ImportSpec) (path string, err error) {
	if path, err = strconv.Unquote(s.Path.Value); err != nil {
		return "", err
	}
	if _, ok := imports.Packages[path]; !ok {
		return "", fmt.Errorf("package %q is not part of this kernel", path)
	}
	return path, nil
}
