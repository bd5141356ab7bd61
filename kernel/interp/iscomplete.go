package interp

import (
	"go/token"
	"strings"
)

// IsComplete says whether code is "complete", "incomplete" or "invalid", and
// for incomplete code how the next line should be indented: one tab for every
// bracket that is open on a line of its own.
func (in *Interp) IsComplete(code string) (status, indent string) {
	src := newSource("code", code)
	_, err := newLibrary().parse(src)
	e, _ := err.(*syntaxError)
	switch {
	case e == nil:
		return "complete", ""
	case !e.open:
		return "invalid", ""
	}
	toks, _ := lex(src)
	depth := 0
	line, lineOf := -1, []int{}
	for _, t := range toks {
		switch t.tok {
		case token.LPAREN, token.LBRACK, token.LBRACE:
			if l := src.placeAt(t.off).line; l != line {
				depth, line = depth+1, l
			}
			lineOf = append(lineOf, line)
		case token.RPAREN, token.RBRACK, token.RBRACE:
			if n := len(lineOf); n > 0 {
				l := lineOf[n-1]
				lineOf = lineOf[:n-1]
				if n == 1 || lineOf[n-2] != l {
					depth, line = depth-1, -1
				}
			}
		}
	}
	return "incomplete", strings.Repeat("\t", max(depth, 0))
}
