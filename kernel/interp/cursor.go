package interp

import (
	"go/ast"
	"go/token"
	"unicode"
	"unicode/utf8"

	"rotorhum/kernel/interp/typing"
)

// cursorName stands in the text where the cursor is.
const cursorName = hidden + "cursor"

// cursor is a place in a cell that is being written, and what surrounds it.
type cursor struct {
	view  *typing.View
	nodes []ast.Node
	ident *ast.Ident // the stand-in
	path  []ast.Node // from the top-level node down to ident
}

// wordBefore returns the identifier that ends at byte offset pos.
func wordBefore(code string, pos int) string {
	start := pos
	for start > 0 {
		r, n := utf8.DecodeLastRuneInString(code[:start])
		if r != '_' && !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			break
		}
		start -= n
	}
	for start < pos { // a number is no word
		r, n := utf8.DecodeRuneInString(code[start:])
		if !unicode.IsDigit(r) {
			break
		}
		start += n
	}
	return code[start:pos]
}

// wordAfter returns the rest of the identifier that byte offset pos is in.
func wordAfter(code string, pos int) string {
	end := pos
	for end < len(code) {
		r, n := utf8.DecodeRuneInString(code[end:])
		if r != '_' && !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			break
		}
		end += n
	}
	return code[pos:end]
}

// lookAt understands the code up to a cursor at byte offset start, where a
// name begins, and closes what is open there.
func (in *Interp) lookAt(code string, start int) *cursor {
	head := code[:start] + cursorName
	toks, bad := lex(newSource("", head))
	if bad != nil {
		return nil
	}
	var closers []string
	for _, t := range toks {
		switch t.tok {
		case token.LPAREN:
			closers = append(closers, ")")
		case token.LBRACK:
			closers = append(closers, "]")
		case token.LBRACE:
			closers = append(closers, "}")
		case token.RPAREN, token.RBRACK, token.RBRACE:
			if len(closers) == 0 {
				return nil
			}
			closers = closers[:len(closers)-1]
		}
	}
	// A statement such as "if x." lacks a body, and one such as "var x T" may
	// want the name as a type or as a value: try what could follow, before the
	// braces close.
	brackets, braces := "", ""
	for i := len(closers) - 1; i >= 0; i-- {
		if braces == "" && closers[i] != "}" {
			brackets += closers[i]
		} else {
			braces += closers[i]
		}
	}
	for _, after := range []string{"", " {}", "()", "; false {}", ": 0"} {
		text := head + brackets + after + braces
		lib := in.lib.scratch()
		sc, err := lib.parse(newSource("", text))
		if err == nil {
			if c := newCursor(sc.nodes); c != nil {
				c.view = in.view.Look(sc.nodes)
				lib.forget()
				return c
			}
		}
		lib.forget()
	}
	return nil
}

// newCursor finds the stand-in among nodes.
func newCursor(nodes []ast.Node) *cursor {
	for _, n := range nodes {
		var path []ast.Node
		var found *cursor
		ast.Inspect(n, func(m ast.Node) bool {
			if found != nil {
				return false
			}
			if m == nil {
				path = path[:len(path)-1]
				return false
			}
			path = append(path, m)
			if id, ok := m.(*ast.Ident); ok && id.Name == cursorName {
				found = &cursor{nodes: nodes, ident: id, path: append([]ast.Node(nil), path...)}
			}
			return found == nil
		})
		if found != nil {
			return found
		}
	}
	return nil
}

// parent returns the n-th node above the stand-in, or nil.
func (c *cursor) parent(n int) ast.Node {
	if i := len(c.path) - 1 - n; i >= 0 {
		return c.path[i]
	}
	return nil
}
