package interp

import (
	"go/ast"
	"go/types"
	"sort"
	"strings"

	"github.com/gopherdata/gophernotes/imports"

	"rotorhum/kernel/interp/typing"
)

// allNames lists the names that a cell may use without declaring them.
func (in *Interp) allNames() []string {
	var out []string
	for name := range in.view.Live() {
		out = append(out, name)
	}
	for name := range in.view.Base() {
		out = append(out, name)
	}
	return append(out, types.Universe.Names()...)
}

// namesIn lists what nodes declare, at any depth.
func namesIn(nodes []ast.Node) []string {
	var out []string
	for _, n := range nodes {
		ast.Inspect(n, func(m ast.Node) bool {
			switch m := m.(type) {
			case *ast.AssignStmt:
				for _, l := range m.Lhs {
					if id, ok := l.(*ast.Ident); ok {
						out = append(out, id.Name)
					}
				}
			case *ast.Field:
				for _, id := range m.Names {
					out = append(out, id.Name)
				}
			case *ast.ValueSpec:
				for _, id := range m.Names {
					out = append(out, id.Name)
				}
			case *ast.TypeSpec:
				out = append(out, m.Name.Name)
			case *ast.FuncDecl:
				out = append(out, m.Name.Name)
			}
			return true
		})
	}
	return out
}

// registeredPaths lists the packages that cells can import.
func registeredPaths() []string {
	var out []string
	for path := range imports.Packages {
		if !strings.HasPrefix(path, "github.com/cosmos72/") {
			out = append(out, path)
		}
	}
	sort.Strings(out)
	return out
}

// packageNamed returns the path of a registered package that is called name,
// the shortest if there are several.
func (in *Interp) packageNamed(name string) string {
	best := ""
	for _, path := range registeredPaths() {
		if last := path[strings.LastIndexByte(path, '/')+1:]; last == name && (best == "" || len(path) < len(best)) {
			best = path
		}
	}
	return best
}

// importedAs returns the path of the package that cells have imported as name.
func (in *Interp) importedAs(name string) string {
	if pn, ok := in.view.Live()[name].(*types.PkgName); ok {
		return pn.Imported().Path()
	}
	return in.packageNamed(name)
}

// membersOfTypeText lists the fields and methods of a type that a message
// names: T, *T or pkg.T.
func (in *Interp) membersOfTypeText(text string) []string {
	text = strings.TrimLeft(text, "*")
	var o types.Object
	if pkg, name, ok := strings.Cut(text, "."); ok {
		if path := in.importedAs(pkg); path != "" {
			o = in.view.Exported(path, name)
		}
	} else {
		o = in.view.Live()[text]
	}
	tn, ok := o.(*types.TypeName)
	if !ok {
		return nil
	}
	var out []string
	for _, m := range typing.MembersOf(tn.Type()) {
		out = append(out, m.Object.Name())
	}
	return out
}
