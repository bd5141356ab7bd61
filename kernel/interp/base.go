package interp

import (
	_ "embed"
	"go/parser"
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
	return in.view.DeclareBase(f)
}
