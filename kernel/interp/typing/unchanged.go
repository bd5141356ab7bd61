package typing

import (
	"go/ast"
	"go/printer"
	"go/token"
	"go/types"
	"maps"
	"strings"
)

// Running a cell again must not turn the types it declares into new types:
// values made by other cells would no longer fit anything. So a declaration
// that says what it said before declares nothing.

// typeText is what a type's declaration said, and what the names in it meant.
type typeText struct {
	specText
	meant Names
}

// recordTypes remembers the declarations of the types that st declares.
func (s *Session) recordTypes(st *Step) {
	for name, text := range st.typeTexts {
		if o := s.live[name]; o != nil {
			s.text[o] = typeText{text, s.meanings(text.uses)}
			delete(s.stale, o)
		}
	}
}

// typeTextsOf describes the types that nodes declare. It must be called before
// anybody changes the nodes.
func (s *Session) typeTextsOf(nodes []ast.Node) map[string]specText {
	out := map[string]specText{}
	for _, n := range nodes {
		for _, sp := range typeSpecs(n) {
			out[sp.Name.Name] = s.describe(sp)
		}
	}
	return out
}

// specText is the text of a type's declaration and the names in it.
type specText struct {
	text string
	uses map[string]bool
}

func (s *Session) describe(sp *ast.TypeSpec) specText {
	var b strings.Builder
	printer.Fprint(&b, s.fset, sp)
	return specText{b.String(), freeNames(sp)}
}

// meanings looks up what names stand for now.
func (s *Session) meanings(names map[string]bool) Names {
	out := Names{}
	for name := range names {
		if o := s.live[name]; o != nil {
			out[name] = o
		}
	}
	return out
}

func typeSpecs(n ast.Node) []*ast.TypeSpec {
	d, ok := n.(*ast.GenDecl)
	if !ok || d.Tok != token.TYPE {
		return nil
	}
	var out []*ast.TypeSpec
	for _, sp := range d.Specs {
		out = append(out, sp.(*ast.TypeSpec))
	}
	return out
}

// dropUnchanged removes type declarations that would change nothing.
func (s *Session) dropUnchanged(nodes []ast.Node) []ast.Node {
	changed := map[string]bool{} // names of this cell that get a new meaning
	same := map[ast.Node]bool{}
	for _, n := range nodes {
		specs := typeSpecs(n)
		same[n] = len(specs) > 0
		for _, sp := range specs {
			if !s.unchanged(sp, nodes) {
				same[n] = false
			}
		}
		if !same[n] {
			for _, sp := range specs {
				changed[sp.Name.Name] = true
			}
			for _, id := range declaredIdents(n) {
				changed[id.Name] = true
			}
		}
	}
	for again := true; again; { // a type that uses a changed one is changed
		again = false
		for _, n := range nodes {
			if !same[n] {
				continue
			}
			for _, sp := range typeSpecs(n) {
				for name := range freeNames(sp) {
					if changed[name] && same[n] {
						same[n], again = false, true
					}
				}
			}
			if !same[n] {
				for _, sp := range typeSpecs(n) {
					changed[sp.Name.Name] = true
				}
			}
		}
	}
	var out []ast.Node
	for _, n := range nodes {
		if !same[n] {
			out = append(out, n)
		}
	}
	return out
}

// unchanged reports whether sp declares the type that its name stands for
// already. Methods among nodes that have other parameters than before make it
// a new type.
func (s *Session) unchanged(sp *ast.TypeSpec, nodes []ast.Node) bool {
	tn, ok := s.live[sp.Name.Name].(*types.TypeName)
	if !ok || s.stale[tn] {
		return false
	}
	was, ok := s.text[tn]
	if !ok {
		return false
	}
	is := s.describe(sp)
	if is.text != was.text || !maps.Equal(s.meanings(is.uses), was.meant) {
		return false
	}
	named, ok := types.Unalias(tn.Type()).(*types.Named)
	if !ok {
		return true
	}
	for _, n := range nodes {
		d, ok := n.(*ast.FuncDecl)
		if !ok || d.Recv == nil || len(d.Recv.List) != 1 {
			continue
		}
		base, ptr := receiver(d)
		if base != sp.Name.Name {
			continue
		}
		for i := range named.NumMethods() {
			m := named.Method(i)
			if m.Name() != d.Name.Name {
				continue
			}
			_, wasPtr := m.Signature().Recv().Type().(*types.Pointer)
			sig := s.signature(d.Type, s.live)
			if wasPtr != ptr || sig == nil || !types.Identical(m.Type(), sig) {
				return false
			}
		}
	}
	return true
}

// receiver returns the name of the type that a method belongs to and whether
// it takes a pointer.
func receiver(d *ast.FuncDecl) (name string, ptr bool) {
	t := d.Recv.List[0].Type
	if p, ok := t.(*ast.StarExpr); ok {
		t, ptr = p.X, true
	}
	if id, ok := t.(*ast.Ident); ok {
		name = id.Name
	}
	return name, ptr
}
