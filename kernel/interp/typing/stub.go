package typing

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/types"
)

// AddGeneric declares a package of generic functions, which reflection cannot
// show, by the text of a Go file. Packages that it imports must have been added
// before.
func (s *Session) AddGeneric(path, src string) error {
	f, err := parser.ParseFile(s.fset, path, src, parser.SkipObjectResolution)
	if err != nil {
		return err
	}
	pkg := types.NewPackage(path, f.Name.Name)
	conf := types.Config{Importer: importer{s}}
	if err := types.NewChecker(&conf, s.fset, pkg, nil).Files([]*ast.File{f}); err != nil {
		return fmt.Errorf("package %s for cells: %w", path, err)
	}
	s.mirror.pkgs[path] = pkg
	s.mirror.generic[path] = true
	return nil
}

// IsGeneric reports whether a package was added by AddGeneric.
func (s *Session) IsGeneric(path string) bool { return s.mirror.generic[path] }
