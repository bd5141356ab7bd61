package interp

import (
	_ "embed"
	"go/ast"
	"go/parser"
	"strings"
)

// baseSource declares the kernel's own functions, for the checker, for
// completion and for help. Their bodies are builtins of the engine.
//
//go:embed base.txt
var baseSource string

func (in *Interp) declareBase() error {
	f, err := parser.ParseFile(in.lib.fset, "kernel", baseSource, parser.ParseComments|parser.SkipObjectResolution)
	if err != nil {
		return err
	}
	for _, d := range f.Decls {
		if fn, ok := d.(*ast.FuncDecl); ok {
			text := baseSource[in.lib.fset.Position(fn.Pos()).Offset:in.lib.fset.Position(fn.End()).Offset]
			sig, _, _ := strings.Cut(text, " {")
			in.texts[hidden+fn.Name.Name] = declaration{signature: sig, doc: strings.TrimSpace(fn.Doc.Text()), text: sig}
		}
	}
	return in.view.DeclareBase(f)
}
