package interp

import (
	"go/ast"
	"go/token"
	"reflect"

	"github.com/cosmos72/gomacro/fast"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/interp/typing"
)

// step is a checked part of a cell, compiled.
type step struct {
	*typing.Step
	units []unit
}

// compile compiles a checked cell. After a fault the engine's names have to be
// restored.
func (in *Interp) compile(c *typing.Cell) (steps []step, fault *cell.Fault) {
	defer func() {
		switch r := recover().(type) {
		case nil:
		case *compileError:
			steps, fault = nil, in.engineFault(in.lib.place(r.pos), r.msg)
		default:
			steps, fault = nil, in.internalFault(r)
		}
	}()
	in.loadStandIns()
	in.hints = map[*ast.CallExpr]any{}
	r := in.newRewriter(c.Info)
	for _, st := range c.Steps {
		in.makeRoom(st)
		steps = append(steps, step{st, in.compileStep(r, st)})
	}
	return steps, nil
}

// loadStandIns makes the types of cells fit the interfaces of packages that no
// cell has imported but whose functions want them, such as io.Writer.
func (in *Interp) loadStandIns() {
	if !in.view.HasMethods() {
		return
	}
	for _, path := range in.view.InterfacePackages() {
		if in.ir.Comp.KnownImports[path] == nil {
			in.load(path)
		}
	}
}

// load makes a registered package known to the engine.
func (in *Interp) load(path string) error {
	if err := in.declareGeneric(path); err != nil {
		return err
	}
	if in.ir.Comp.KnownImports[path] != nil {
		return nil
	}
	if _, err := in.ir.Comp.ImportPackagesOrError(map[string]fast.PackageName{path: "_"}); err != nil {
		return err
	}
	in.adapt(path)
	return nil
}

// makeRoom frees the names that st declares with another type than they have
// now. The engine would put the new variable into the place of the old one,
// under the feet of the functions that use it.
func (in *Interp) makeRoom(st *typing.Step) {
	for name, o := range st.Defines {
		if old := in.view.Live()[name]; old == nil || !typing.SameKind(old, o) {
			delete(in.ir.Comp.Binds, name)
			delete(in.ir.Comp.Types, name)
		}
	}
}

// compileStep compiles the nodes of one step. Functions and methods are
// announced to the engine before their bodies, so that they may call one
// another.
func (in *Interp) compileStep(r *rewriter, st *typing.Step) (units []unit) {
	var decls []ast.Node
	var funcs []*ast.FuncDecl
	in.newBack = nil
	for _, n := range st.Nodes {
		switch n := r.node(n).(type) {
		case *ast.FuncDecl:
			funcs = append(funcs, n)
		case *ast.GenDecl:
			if n.Tok == token.TYPE || n.Tok == token.CONST {
				decls = append(decls, n)
				continue
			}
			units = append(units, compile(in.ir, n))
		default:
			units = append(units, compile(in.ir, n))
		}
	}
	if len(decls) > 0 {
		units = append(units, compile(in.ir, decls...))
		for _, n := range decls {
			in.settleTypes(n)
		}
	}
	if len(funcs) > 1 {
		for _, f := range funcs {
			head := *f
			head.Body = nil
			compile(in.ir, &head)
		}
	}
	for _, f := range funcs {
		units = append(units, compile(in.ir, f))
	}
	return units
}

// settleTypes completes what the engine knows of the types that n declares.
func (in *Interp) settleTypes(n ast.Node) {
	d, ok := n.(*ast.GenDecl)
	if !ok || d.Tok != token.TYPE {
		return
	}
	for _, sp := range d.Specs {
		t := in.ir.Comp.Types[sp.(*ast.TypeSpec).Name.Name]
		if t == nil || !t.Named() || t.PkgPath() != in.ir.Comp.Path {
			continue
		}
		// The engine loses methods when it makes room for more of them.
		if m := t.GetMethods(); cap(*m) < roomForMethods {
			*m = append(make([]reflect.Value, 0, roomForMethods), *m...)
		}
	}
	for _, b := range in.newBack {
		b.real = in.ir.Comp.Type(b.typ)
	}
}

// roomForMethods is more methods than a type in a cell will have.
const roomForMethods = 256
