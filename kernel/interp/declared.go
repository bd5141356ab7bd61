package interp

import (
	"go/ast"
	"go/token"
	"go/types"
	"strings"
)

// declaration is what a cell said when it declared something.
type declaration struct {
	signature string // on one line
	doc       string // the comment before it
	text      string // all of it
}

// rememberText keeps the text of what a cell declares at its top level, under
// "name", or "Type.name" for a method.
func (in *Interp) rememberText(src *source, nodes []ast.Node) {
	for _, n := range nodes {
		switch n := n.(type) {
		case *ast.FuncDecl:
			name := n.Name.Name
			if n.Recv != nil && len(n.Recv.List) == 1 {
				t := n.Recv.List[0].Type
				if p, ok := t.(*ast.StarExpr); ok {
					t = p.X
				}
				id, ok := t.(*ast.Ident)
				if !ok {
					continue
				}
				name = id.Name + "." + name
			}
			end := n.End()
			if n.Body != nil {
				end = n.Body.Lbrace
			}
			in.texts[name] = declaration{
				signature: strings.Join(strings.Fields(in.textBetween(src, n.Pos(), end)), " "),
				doc:       strings.TrimSpace(n.Doc.Text()),
				text:      in.textBetween(src, n.Pos(), n.End()),
			}
		case *ast.GenDecl:
			if n.Tok == token.IMPORT {
				continue
			}
			for _, sp := range n.Specs {
				in.rememberSpec(src, n, sp)
			}
		}
	}
}

func (in *Interp) rememberSpec(src *source, d *ast.GenDecl, sp ast.Spec) {
	doc := d.Doc.Text()
	var names []*ast.Ident
	switch sp := sp.(type) {
	case *ast.TypeSpec:
		names = []*ast.Ident{sp.Name}
		doc += sp.Doc.Text() + sp.Comment.Text()
	case *ast.ValueSpec:
		names = sp.Names
		doc += sp.Doc.Text() + sp.Comment.Text()
	}
	text := d.Tok.String() + " " + in.textBetween(src, sp.Pos(), sp.End())
	sig := ""
	if d.Tok == token.TYPE {
		sig = text
	}
	for _, id := range names {
		in.texts[id.Name] = declaration{signature: sig, doc: strings.TrimSpace(doc), text: text}
	}
}

// textBetween is the text of a cell between two positions in it.
func (in *Interp) textBetween(src *source, from, to token.Pos) string {
	return src.between(in.lib.place(from), in.lib.place(to))
}

// between is the text of s between two places.
func (s *source) between(a, b place) string {
	i, j := s.offset(a), s.offset(b)
	if i < 0 || j < i {
		return ""
	}
	return s.text[i:j]
}

func (s *source) offset(p place) int {
	if p.src != s || p.line < 1 || p.line > len(s.lines) {
		return -1
	}
	off := 0
	for _, l := range s.lines[:p.line-1] {
		off += len(l) + 1
	}
	return min(off+p.col-1, len(s.text))
}

// source returns the declaration of what a cell has declared.
func (in *Interp) source(o types.Object, owner types.Type) (declaration, bool) {
	name := o.Name()
	if owner != nil {
		n := namedOf(owner)
		if n == nil || n.Obj().Pkg() == nil || n.Obj().Pkg().Path() != cellPath {
			return declaration{}, false
		}
		name = n.Obj().Name() + "." + name
	} else if in.isBase(o) {
		d, ok := in.texts[hidden+name]
		return d, ok
	} else if in.view.Live()[name] != o {
		return declaration{}, false
	}
	d, ok := in.texts[name]
	return d, ok
}
