package typing

import (
	"fmt"
	"go/ast"
	"go/types"
)

// lateMethod deals with a method whose receiver type an earlier cell has
// declared: go/types would not accept it here. The type gets the method, and
// the body is checked as that of a function whose first parameter is the
// receiver.
func (c *stepCheck) lateMethod(d *ast.FuncDecl) *ast.FuncDecl {
	if d.Recv == nil || len(d.Recv.List) != 1 {
		return d
	}
	recv := d.Recv.List[0]
	base, ptr := recv.Type, false
	if p, ok := base.(*ast.StarExpr); ok {
		base, ptr = p.X, true
	}
	id, ok := base.(*ast.Ident)
	if !ok {
		return d
	}
	tn, ok := c.names[id.Name].(*types.TypeName)
	if !ok || tn.Pkg() == nil || tn.Pkg().Path() != cellPath {
		return d
	}
	named, ok := types.Unalias(tn.Type()).(*types.Named)
	if !ok {
		return d
	}
	c.addMethod(named, ptr, d)
	params := &ast.FieldList{Opening: d.Type.Params.Opening, Closing: d.Type.Params.Closing}
	params.List = append([]*ast.Field{recv}, d.Type.Params.List...)
	fn := *d
	fn.Recv = nil
	fn.Name = &ast.Ident{Name: "_", NamePos: d.Name.NamePos}
	typ := *d.Type
	typ.Params = params
	fn.Type = &typ
	if len(recv.Names) == 0 {
		// a receiver without a name cannot stand among named parameters
		named := *recv
		named.Names = []*ast.Ident{{Name: "_", NamePos: recv.Pos()}}
		params.List[0] = &named
		for i, f := range params.List[1:] {
			if len(f.Names) == 0 {
				g := *f
				g.Names = []*ast.Ident{{Name: "_", NamePos: f.Pos()}}
				params.List[i+1] = &g
			}
		}
	}
	return &fn
}

// addMethod gives an earlier type the method that d declares.
func (c *stepCheck) addMethod(named *types.Named, ptr bool, d *ast.FuncDecl) {
	sig := c.signature(d.Type, c.names)
	if sig == nil {
		return // the full check will say why
	}
	var rt types.Type = named
	if ptr {
		rt = types.NewPointer(named)
	}
	for i := range named.NumMethods() {
		m := named.Method(i)
		if m.Name() != d.Name.Name {
			continue
		}
		if !types.Identical(m.Type(), sig) || !types.Identical(m.Signature().Recv().Type(), rt) {
			name := named.Obj().Name()
			c.stale[named.Obj()] = true
			c.errs = append(c.errs, Error{d.Name.Pos(), fmt.Sprintf(
				"method %s.%s had another receiver, other parameters or other results before: run the cell that declares type %s again first",
				name, m.Name(), name)})
		}
		return
	}
	recv := types.NewParam(d.Recv.Pos(), c.pkg, "", rt)
	sig = types.NewSignatureType(recv, nil, nil, sig.Params(), sig.Results(), sig.Variadic())
	named.AddMethod(types.NewFunc(d.Name.Pos(), c.pkg, d.Name.Name, sig))
}

// Signature returns what a function type in a cell means, or nil.
func (s *Session) Signature(ft *ast.FuncType) *types.Signature { return s.signature(ft, s.live) }

// signature returns what a function type in a cell means, or nil if it means
// nothing.
func (s *Session) signature(ft *ast.FuncType, names Names) *types.Signature {
	const name = "f"
	head := &ast.FuncDecl{Name: &ast.Ident{Name: name, NamePos: ft.Pos()}, Type: ft}
	probe := &stepCheck{Session: s, names: names, pkg: types.NewPackage(cellPath, cellPath), info: newInfo()}
	probe.load([]ast.Node{ft}, names, nil)
	probe.enter([]ast.Node{ft}, map[string]bool{})
	file := &ast.File{Package: ft.Pos(), Name: &ast.Ident{Name: cellPath, NamePos: ft.Pos()}, Decls: []ast.Decl{head}}
	conf := types.Config{Importer: importer{s}, Error: func(error) {}}
	if types.NewChecker(&conf, s.fset, probe.pkg, probe.info).Files([]*ast.File{file}) != nil {
		return nil
	}
	return probe.pkg.Scope().Lookup(name).(*types.Func).Signature()
}
