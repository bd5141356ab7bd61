package typing

import (
	"go/ast"
	"go/token"
	"go/types"
	"maps"
	"strconv"
	"strings"
)

// Error is one thing that is wrong with a cell.
type Error struct {
	Pos token.Pos
	Msg string
}

// Step is a part of a cell that runs as one: a single statement, or
// declarations that may need one another.
type Step struct {
	Nodes []ast.Node
	// Defines holds the names that are live once the step has run.
	Defines Names

	typeTexts map[string]specText
}

// Cell is a cell that go/types accepts.
type Cell struct {
	Steps []*Step
	Info  *types.Info
}

func newInfo() *types.Info {
	return &types.Info{
		Types:      map[ast.Expr]types.TypeAndValue{},
		Defs:       map[*ast.Ident]types.Object{},
		Uses:       map[*ast.Ident]types.Object{},
		Implicits:  map[ast.Node]types.Object{},
		Selections: map[*ast.SelectorExpr]*types.Selection{},
		Instances:  map[*ast.Ident]types.Instance{},
		Scopes:     map[ast.Node]*types.Scope{},
	}
}

// Check checks the top-level nodes of a cell, in the order in which they can
// run: functions, types and constants first where nothing they use comes
// later. It returns the errors of the first step that has any, and the steps
// up to and including that one.
func (s *Session) Check(nodes []ast.Node) (*Cell, []Error) {
	if errs := beyond(nodes); len(errs) > 0 {
		return &Cell{Info: newInfo()}, errs
	}
	nodes = s.dropUnchanged(nodes)
	c, errs := s.checkOverloads(s.hoist(nodes))
	if len(errs) > 0 {
		// Where hoisting went wrong, the order as written may still do.
		if asWritten, none := s.checkOverloads(single(nodes)); len(none) == 0 {
			c, errs = asWritten, nil
		}
	}
	if len(errs) == 0 {
		errs = beyondTypes(nodes, c.Info)
	}
	return c, errs
}

func (s *Session) checkSteps(groups [][]ast.Node) (*Cell, []Error) {
	c := &Cell{Info: newInfo()}
	names := maps.Clone(s.live)
	for _, g := range groups {
		st := &Step{Nodes: g, typeTexts: s.typeTextsOf(g)}
		c.Steps = append(c.Steps, st)
		var errs []Error
		st.Defines, errs = s.checkStep(g, names, c.Info)
		if len(errs) > 0 {
			return c, errs
		}
		maps.Copy(names, st.Defines)
	}
	return c, nil
}

// stepCheck is one run of go/types over one step.
type stepCheck struct {
	*Session
	names   Names
	pkg     *types.Package
	info    *types.Info
	errs    []Error
	defines Names
	value   ast.Expr // a top-level expression, whose value need not be used
}

func (s *Session) checkStep(nodes []ast.Node, names Names, info *types.Info) (Names, []Error) {
	c := &stepCheck{
		Session: s, names: names, info: info,
		pkg: types.NewPackage(cellPath, cellPath), defines: Names{},
	}
	var rest []ast.Node
	for _, n := range nodes {
		if d, ok := n.(*ast.GenDecl); ok && d.Tok == token.IMPORT {
			for _, sp := range d.Specs {
				c.declareImport(sp.(*ast.ImportSpec))
			}
		} else {
			rest = append(rest, n)
		}
	}
	if len(rest) == 0 {
		return c.defines, c.errs
	}
	c.load(rest, names, nil)
	file := &ast.File{Package: rest[0].Pos(), Name: &ast.Ident{Name: cellPath, NamePos: rest[0].Pos()}}
	file.FileStart, file.FileEnd = rest[0].Pos(), rest[len(rest)-1].End()
	own := map[string]bool{}
	for _, n := range rest {
		switch n := n.(type) {
		case *ast.FuncDecl:
			if n.Recv != nil {
				s.methods = true
			} else {
				own[n.Name.Name] = true
			}
			file.Decls = append(file.Decls, c.lateMethod(n))
		case *ast.GenDecl:
			if n.Tok == token.VAR {
				file.Decls = append(file.Decls, wrap(&ast.DeclStmt{Decl: n}))
				break
			}
			for _, sp := range n.Specs {
				switch sp := sp.(type) {
				case *ast.TypeSpec:
					own[sp.Name.Name] = true
				case *ast.ValueSpec:
					for _, id := range sp.Names {
						own[id.Name] = true
					}
				}
			}
			file.Decls = append(file.Decls, n)
		case ast.Stmt:
			if e, ok := n.(*ast.ExprStmt); ok {
				c.value = e.X
			}
			file.Decls = append(file.Decls, wrap(n))
		}
	}
	c.enter(rest, own)
	conf := types.Config{Importer: importer{s}, Error: c.report}
	types.NewChecker(&conf, s.fset, c.pkg, info).Files([]*ast.File{file})
	if len(c.errs) > 0 {
		return nil, c.errs
	}
	for name := range own {
		if o := c.pkg.Scope().Lookup(name); o != nil && name != "_" {
			c.defines[name] = o
		}
	}
	for _, n := range rest {
		for _, id := range declaredIdents(n) {
			if v := info.Defs[id]; v != nil && id.Name != "_" {
				c.defines[id.Name] = v
			}
		}
	}
	return c.defines, nil
}

// wrap puts a statement into a function, the only place where Go has them.
func wrap(s ast.Stmt) *ast.FuncDecl {
	return &ast.FuncDecl{
		Name: &ast.Ident{Name: "_", NamePos: s.Pos()},
		Type: &ast.FuncType{Func: s.Pos(), Params: &ast.FieldList{}},
		Body: &ast.BlockStmt{Lbrace: s.Pos(), List: []ast.Stmt{s}, Rbrace: s.End()},
	}
}

// declaredIdents lists the variables that a top-level node declares.
func declaredIdents(n ast.Node) []*ast.Ident {
	var out []*ast.Ident
	switch n := n.(type) {
	case *ast.AssignStmt:
		if n.Tok == token.DEFINE {
			for _, l := range n.Lhs {
				if id, ok := l.(*ast.Ident); ok {
					out = append(out, id)
				}
			}
		}
	case *ast.LabeledStmt:
		return declaredIdents(n.Stmt)
	case *ast.GenDecl:
		if n.Tok == token.VAR {
			for _, sp := range n.Specs {
				out = append(out, sp.(*ast.ValueSpec).Names...)
			}
		}
	}
	return out
}

func (c *stepCheck) declareImport(sp *ast.ImportSpec) {
	path, err := strconv.Unquote(sp.Path.Value)
	if err != nil {
		c.errs = append(c.errs, Error{sp.Pos(), "invalid import path " + sp.Path.Value})
		return
	}
	name := ""
	if sp.Name != nil {
		name = sp.Name.Name
	}
	switch name {
	case "_":
	case ".":
		for _, n := range c.Members(path) {
			if o := c.mirror.lookup(path, n); o != nil {
				c.defines[n] = o
			}
		}
	default:
		pn := c.pkgName(sp.Pos(), c.pkg, name, path)
		c.defines[pn.Name()] = pn
	}
}

// enter puts the live names that nodes mention into the package, so that
// go/types finds them; own are the names the step itself declares there.
func (c *stepCheck) enter(nodes []ast.Node, own map[string]bool) {
	scope := c.pkg.Scope()
	for _, n := range nodes {
		ast.Inspect(n, func(n ast.Node) bool {
			id, ok := n.(*ast.Ident)
			if !ok || own[id.Name] || scope.Lookup(id.Name) != nil {
				return true
			}
			o := c.names[id.Name]
			if o == nil {
				o = c.base[id.Name]
			}
			switch o := o.(type) {
			case nil:
			case *types.PkgName:
				scope.Insert(types.NewPkgName(o.Pos(), c.pkg, o.Name(), o.Imported()))
			default:
				if o.Name() == id.Name {
					scope.Insert(o)
				}
			}
			return true
		})
	}
}

// report takes one message of go/types.
func (c *stepCheck) report(err error) {
	e, ok := err.(types.Error)
	if !ok {
		c.errs = append(c.errs, Error{token.NoPos, err.Error()})
		return
	}
	msg := strings.ReplaceAll(e.Msg, cellPath+".", "")
	switch {
	case strings.HasPrefix(msg, "\t"):
		if n := len(c.errs); n > 0 {
			c.errs[n-1].Msg += "\n" + msg
		}
		return
	case e.Soft && (strings.Contains(msg, "declared and not used") || strings.Contains(msg, "imported and not used")):
		return // harmless in a cell
	case c.value != nil && strings.HasSuffix(msg, "is not used") && means(e.Pos, c.value):
		return // its value is what the cell shows
	case strings.HasPrefix(msg, "implicit assignment to unexported field") && !strings.Contains(lastWord(e.Msg), "."):
		return
	case strings.HasPrefix(msg, "implicit assignment to unexported field") && strings.HasPrefix(lastWord(e.Msg), cellPath+"."):
		return // declared in another cell, which go/types takes for another package
	}
	c.errs = append(c.errs, Error{e.Pos, msg})
}

func lastWord(s string) string { return s[strings.LastIndexByte(s, ' ')+1:] }

// means reports whether go/types, pointing at pos, means expression e and not
// something inside it.
func means(pos token.Pos, e ast.Expr) bool {
	if pos == e.Pos() {
		return true
	}
	switch e := e.(type) {
	case *ast.BinaryExpr:
		return pos == e.OpPos
	case *ast.ParenExpr:
		return means(pos, e.X)
	case *ast.SelectorExpr:
		return pos == e.Sel.Pos()
	}
	return false
}
