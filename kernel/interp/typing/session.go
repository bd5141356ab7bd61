// Package typing checks cells with go/types before they run: cells then get
// Go's own messages at Go's own positions, and whoever changes or completes
// their text knows the type of every expression.
//
// A cell is checked top-level node by top-level node against the names that
// are live at that point, because a cell may declare a name again with another
// type. Compiled packages are seen through the tables they are registered
// with; there is neither source nor toolchain where a kernel runs.
package typing

import (
	"go/ast"
	"go/token"
	"go/types"
	"maps"
	"strconv"

	"github.com/gopherdata/gophernotes/imports"
)

// cellPath is the package path of everything declared in cells.
const cellPath = "main"

// Session is what is known, statically, of the names cells have declared.
type Session struct {
	fset   *token.FileSet
	mirror *mirror
	live   Names
	base   Names // the kernel's own functions

	methods bool // some cell has declared a method

	text  map[types.Object]typeText // of the types that cells have declared
	stale map[types.Object]bool     // types that the next declaration must renew
}

// Names maps live names to what they stand for.
type Names map[string]types.Object

// New returns a session without names.
func New(fset *token.FileSet) *Session {
	return &Session{
		fset: fset, mirror: newMirror(), live: Names{}, base: Names{},
		text: map[types.Object]typeText{}, stale: map[types.Object]bool{},
	}
}

// Lookup returns the object a name stands for at the cells' top level, or nil.
func (s *Session) Lookup(name string) types.Object {
	if o := s.live[name]; o != nil {
		return o
	}
	if o := s.base[name]; o != nil {
		return o
	}
	return types.Universe.Lookup(name)
}

// Live lists what cells have declared or imported.
func (s *Session) Live() Names { return s.live }

// Base lists the functions that cells may use without declaring them.
func (s *Session) Base() Names { return s.base }

// Commit makes the names of a step live, once it has run.
func (s *Session) Commit(st *Step) {
	maps.Copy(s.live, st.Defines)
	s.recordTypes(st)
}

// SameKind reports whether b may take the place of a: both variables,
// constants or functions of one type.
func SameKind(a, b types.Object) bool {
	switch a.(type) {
	case *types.Var:
		_, ok := b.(*types.Var)
		return ok && types.Identical(a.Type(), b.Type())
	case *types.Func:
		_, ok := b.(*types.Func)
		return ok && types.Identical(a.Type(), b.Type())
	}
	return false
}

// Exported returns the object that the registered package path exports as name,
// or nil.
func (s *Session) Exported(path, name string) types.Object { return s.mirror.lookup(path, name) }

// Members lists the exported names of a registered package, in no order.
func (s *Session) Members(path string) []string {
	if s.mirror.generic[path] {
		return s.mirror.pkg(path).Scope().Names()
	}
	reg := imports.Packages[path]
	var out []string
	for n := range reg.Binds {
		if token.IsExported(n) {
			out = append(out, n)
		}
	}
	for n := range reg.Types {
		if token.IsExported(n) {
			out = append(out, n)
		}
	}
	return out
}

// InterfacePackages lists the registered packages whose interfaces the cells
// have met, imported or not.
func (s *Session) InterfacePackages() []string {
	var out []string
	for path := range s.mirror.ifaces {
		if _, ok := imports.Packages[path]; ok {
			out = append(out, path)
		}
	}
	return out
}

// HasMethods reports whether a cell has declared a method.
func (s *Session) HasMethods() bool { return s.methods }

// pkgName makes the object of an import.
func (s *Session) pkgName(pos token.Pos, in *types.Package, name, path string) *types.PkgName {
	p := s.mirror.pkg(path)
	if name == "" {
		name = p.Name()
	}
	return types.NewPkgName(pos, in, name, p)
}

// DeclareBase adds functions that every cell may use. src is a Go file whose
// functions have no bodies.
func (s *Session) DeclareBase(file *ast.File) error {
	conf := types.Config{Error: func(error) {}}
	pkg := types.NewPackage(cellPath, cellPath)
	file.Name.Name = cellPath
	conf.Importer = importer{s}
	s.load([]ast.Node{file}, Names{}, file.Imports)
	if err := types.NewChecker(&conf, s.fset, pkg, nil).Files([]*ast.File{file}); err != nil {
		return err
	}
	for _, name := range pkg.Scope().Names() {
		s.base[name] = pkg.Scope().Lookup(name)
	}
	return nil
}

// importer gives go/types the mirrored packages.
type importer struct{ s *Session }

func (i importer) Import(path string) (*types.Package, error) { return i.s.mirror.pkg(path), nil }

// load mirrors every name of a compiled package that nodes mention.
func (s *Session) load(nodes []ast.Node, names Names, specs []*ast.ImportSpec) {
	paths := map[string]string{}
	for _, sp := range specs {
		if path, err := strconv.Unquote(sp.Path.Value); err == nil {
			name := s.mirror.pkg(path).Name()
			if sp.Name != nil {
				name = sp.Name.Name
			}
			paths[name] = path
		}
	}
	for _, n := range nodes {
		ast.Inspect(n, func(n ast.Node) bool {
			sel, ok := n.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			id, ok := sel.X.(*ast.Ident)
			if !ok {
				return true
			}
			if path, ok := paths[id.Name]; ok {
				s.mirror.lookup(path, sel.Sel.Name)
			} else if pn, ok := names[id.Name].(*types.PkgName); ok {
				s.mirror.lookup(pn.Imported().Path(), sel.Sel.Name)
			}
			return true
		})
	}
}
