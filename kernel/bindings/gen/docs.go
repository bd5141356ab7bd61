package main

import (
	"bytes"
	"fmt"
	"go/ast"
	"go/doc"
	"go/printer"
	"go/types"
	"strings"

	"golang.org/x/tools/go/packages"
)

// docFile writes the documentation of one package in the form that package
// bindings reads.
type docFile struct {
	bytes.Buffer
	pkg *packages.Package
}

func docsOf(p *packages.Package) []byte {
	d := &docFile{pkg: p}
	fmt.Fprintf(d, "# %s\n", header)
	all, err := doc.NewFromFiles(p.Fset, p.Syntax, p.PkgPath)
	if err != nil {
		fmt.Fprintf(d, "# no documentation: %v\n", err)
		return d.Bytes()
	}
	if d.foreign() {
		for _, f := range p.Syntax {
			ast.Inspect(f, silence)
		}
	}
	d.put("", "package "+p.Name+" // import "+fmt.Sprintf("%q", p.PkgPath), all.Doc)
	d.values(all.Consts)
	d.values(all.Vars)
	for _, f := range all.Funcs {
		d.function("", f)
	}
	for _, t := range all.Types {
		d.typ(t)
	}
	return d.Bytes()
}

// foreign reports whether the package is not ours.
func (d *docFile) foreign() bool { return !strings.HasPrefix(d.pkg.PkgPath, "rotorhum/") }

// silence takes the comments out of declarations.
func silence(n ast.Node) bool {
	switch n := n.(type) {
	case *ast.Field:
		n.Doc, n.Comment = nil, nil
	case *ast.ValueSpec:
		n.Doc, n.Comment = nil, nil
	case *ast.TypeSpec:
		n.Doc, n.Comment = nil, nil
	}
	return true
}

// put writes one entry.
func (d *docFile) put(name, signature, text string) {
	fmt.Fprintf(d, "@%s\n", name)
	for _, line := range strings.Split(strings.TrimRight(signature, "\n"), "\n") {
		fmt.Fprintf(d, "|%s\n", line)
	}
	text = strings.TrimSpace(text)
	if d.foreign() {
		// declarations are facts; the words belong to their authors
		text = "Its documentation: go doc " + strings.TrimSuffix(d.pkg.PkgPath+"."+name, ".")
	}
	if text == "" {
		return
	}
	for _, line := range strings.Split(text, "\n") {
		fmt.Fprintf(d, " %s\n", line)
	}
}

func (d *docFile) source(n any) string {
	var b bytes.Buffer
	if err := printer.Fprint(&b, d.pkg.Fset, n); err != nil {
		return err.Error()
	}
	return b.String()
}

func (d *docFile) function(prefix string, f *doc.Func) {
	decl := *f.Decl
	decl.Body, decl.Doc = nil, nil
	d.put(prefix+f.Name, strings.Join(strings.Fields(d.source(&decl)), " "), f.Doc)
}

func (d *docFile) values(groups []*doc.Value) {
	for _, g := range groups {
		for _, s := range g.Decl.Specs {
			spec := s.(*ast.ValueSpec)
			for _, id := range spec.Names {
				if !id.IsExported() {
					continue
				}
				o := d.pkg.Types.Scope().Lookup(id.Name)
				if o == nil {
					continue
				}
				sig := g.Decl.Tok.String() + " " + id.Name + " " + types.TypeString(o.Type(), types.RelativeTo(d.pkg.Types))
				if c, ok := o.(*types.Const); ok {
					sig += " = " + c.Val().String()
				}
				text := spec.Doc.Text() + spec.Comment.Text()
				if text == "" {
					text = g.Doc
				}
				d.put(id.Name, sig, text)
			}
		}
	}
}

func (d *docFile) typ(t *doc.Type) {
	decl := *t.Decl
	decl.Doc = nil
	d.put(t.Name, d.source(&decl), t.Doc)
	for _, s := range t.Decl.Specs {
		if spec, ok := s.(*ast.TypeSpec); ok && spec.Name.Name == t.Name {
			d.members(t.Name, spec.Type)
		}
	}
	d.values(t.Consts)
	d.values(t.Vars)
	for _, f := range t.Funcs {
		d.function("", f)
	}
	for _, f := range t.Methods {
		d.function(t.Name+".", f)
	}
}

// members writes the exported fields of a struct and methods of an interface.
func (d *docFile) members(name string, typ ast.Expr) {
	var list *ast.FieldList
	switch typ := typ.(type) {
	case *ast.StructType:
		list = typ.Fields
	case *ast.InterfaceType:
		list = typ.Methods
	default:
		return
	}
	for _, f := range list.List {
		for _, id := range f.Names {
			if id.IsExported() {
				src := strings.Join(strings.Fields(d.source(f.Type)), " ")
				sig := "field " + id.Name + " " + src
				if sigOf, ok := f.Type.(*ast.FuncType); ok && list == interfaceMethods(typ) {
					sig = "func " + id.Name + strings.TrimPrefix(strings.Join(strings.Fields(d.source(sigOf)), " "), "func")
				}
				d.put(name+"."+id.Name, sig, f.Doc.Text()+f.Comment.Text())
			}
		}
	}
}

func interfaceMethods(typ ast.Expr) *ast.FieldList {
	if i, ok := typ.(*ast.InterfaceType); ok {
		return i.Methods
	}
	return nil
}
