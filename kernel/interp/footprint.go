package interp

import (
	"go/ast"
	"go/parser"
	"go/token"
	"slices"
	"strconv"
	"strings"
)

// Footprint is what a cell has to do with the names at the cells' top level,
// as far as its text tells.
type Footprint struct {
	// Declares lists the variables, constants, functions, types and imports
	// that the cell declares there. A method counts as "Type.Method".
	Declares []string
	// Reads lists the names that the cell uses and that come from elsewhere:
	// from other cells, or from Go itself. A name that it declares before it
	// uses it is not among them.
	Reads []string
	// Changes lists those of them that the cell assigns to, in part or whole,
	// or whose address it takes. What a function does to its arguments, and
	// what is reached through another name, does not show in the text.
	Changes []string
}

// FootprintOf reads the footprint of a cell off its text; nothing is run and no
// session is needed. The error says why the text is no Go.
func FootprintOf(code string) (Footprint, error) {
	src := newSource("cell", code)
	parts, _, err := split(src)
	if err != nil {
		return Footprint{}, err
	}
	declared, read, changed := nameSet{}, nameSet{}, nameSet{}
	for _, p := range parts {
		if p.kind == packagePart {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), src.name, partText(src, p), 0)
		if err != nil {
			return Footprint{}, asSyntaxError(src, err)
		}
		free := map[*ast.Ident]bool{}
		for _, id := range f.Unresolved {
			free[id] = true
			if !declared[id.Name] {
				read[id.Name] = true
			}
		}
		for _, n := range topLevel(f, p.kind) {
			declared.addDeclared(n)
			ast.Inspect(n, func(m ast.Node) bool {
				for _, e := range changedBy(m) {
					if id := root(e); id != nil && free[id] && !declared[id.Name] {
						changed[id.Name] = true
					}
				}
				return true
			})
		}
	}
	return Footprint{declared.sorted(), read.sorted(), changed.sorted()}, nil
}

type nameSet map[string]bool

func (s nameSet) sorted() []string {
	var out []string
	for name := range s {
		if name != "_" {
			out = append(out, name)
		}
	}
	slices.Sort(out)
	return out
}

func (s nameSet) addDeclared(n ast.Node) {
	switch n := n.(type) {
	case *ast.AssignStmt:
		if n.Tok == token.DEFINE {
			for _, name := range identNames(n.Lhs...) {
				s[name] = true
			}
		}
	case *ast.LabeledStmt:
		s.addDeclared(n.Stmt)
	case *ast.FuncDecl:
		name := n.Name.Name
		if n.Recv != nil && len(n.Recv.List) == 1 {
			if id := root(n.Recv.List[0].Type); id != nil {
				name = id.Name + "." + name
			}
		}
		s[name] = true
	case *ast.GenDecl:
		for _, sp := range n.Specs {
			switch sp := sp.(type) {
			case *ast.ValueSpec:
				for _, id := range sp.Names {
					s[id.Name] = true
				}
			case *ast.TypeSpec:
				s[sp.Name.Name] = true
			case *ast.ImportSpec:
				if sp.Name != nil {
					s[sp.Name.Name] = true
				} else if path, err := strconv.Unquote(sp.Path.Value); err == nil {
					s[packageName(path)] = true
				}
			}
		}
	}
}

// packageName is the name of the package with the given path, as far as the path
// tells: its last part that is not a version.
func packageName(path string) string {
	parts := strings.Split(path, "/")
	n := len(parts) - 1
	if v, ok := strings.CutPrefix(parts[n], "v"); ok && n > 0 {
		if _, err := strconv.Atoi(v); err == nil {
			n--
		}
	}
	return parts[n]
}

// changedBy lists the operands that a node changes or may change.
func changedBy(n ast.Node) []ast.Expr {
	switch n := n.(type) {
	case *ast.AssignStmt:
		if n.Tok != token.DEFINE {
			return n.Lhs
		}
	case *ast.IncDecStmt:
		return []ast.Expr{n.X}
	case *ast.RangeStmt:
		if n.Tok == token.ASSIGN {
			return []ast.Expr{n.Key, n.Value}
		}
	case *ast.UnaryExpr:
		if n.Op == token.AND {
			return []ast.Expr{n.X}
		}
	case *ast.SendStmt:
		return []ast.Expr{n.Chan}
	case *ast.CallExpr:
		if id, ok := n.Fun.(*ast.Ident); ok && len(n.Args) > 0 {
			switch id.Name {
			case "delete", "clear", "copy", "close":
				return n.Args[:1]
			}
		}
	}
	return nil
}

// root returns the variable that an operand is, or is part of.
func root(e ast.Expr) *ast.Ident {
	for {
		switch x := e.(type) {
		case *ast.Ident:
			return x
		case *ast.SelectorExpr:
			e = x.X
		case *ast.IndexExpr:
			e = x.X
		case *ast.SliceExpr:
			e = x.X
		case *ast.StarExpr:
			e = x.X
		case *ast.ParenExpr:
			e = x.X
		default:
			return nil
		}
	}
}
