package interp

import (
	"bytes"
	"go/ast"
	"go/printer"
	"go/token"
)

// exprText is an expression in Go syntax, on one line.
func exprText(e ast.Expr) string {
	var b bytes.Buffer
	if err := printer.Fprint(&b, token.NewFileSet(), e); err != nil {
		return "it"
	}
	return oneLine(b.String())
}
