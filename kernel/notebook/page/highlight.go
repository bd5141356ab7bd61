package page

import (
	"go/scanner"
	"go/token"
	"html"
	"strings"
)

// highlightGo returns Go code as HTML, its tokens in span elements of the
// classes k (keyword), s (text), n (number), c (comment), f (called name) and
// b (predeclared name). The code need not be valid.
func highlightGo(code string) string {
	files := token.NewFileSet()
	file := files.AddFile("", -1, len(code))
	var s scanner.Scanner
	s.Init(file, []byte(code), func(token.Position, string) {}, scanner.ScanComments)
	var out strings.Builder
	done := 0
	// A name is written when the token after it is known.
	name, nameEnd := -1, -1
	flush := func(next token.Token) {
		if name < 0 {
			return
		}
		word := code[name:nameEnd]
		switch {
		case predeclared[word]:
			span(&out, "b", word)
		case next == token.LPAREN:
			span(&out, "f", word)
		default:
			out.WriteString(html.EscapeString(word))
		}
		done, name = nameEnd, -1
	}
	for {
		pos, tok, lit := s.Scan()
		flush(tok)
		if tok == token.EOF {
			break
		}
		if tok == token.SEMICOLON && lit != ";" {
			continue // inserted by the scanner
		}
		at := file.Offset(pos)
		text := lit
		if text == "" {
			text = tok.String()
		}
		end := at + len(text)
		if at < done || end > len(code) || code[at:end] != text {
			continue // a raw string with carriage returns; printed with what follows
		}
		out.WriteString(html.EscapeString(code[done:at]))
		done = end
		switch {
		case tok == token.IDENT:
			name, nameEnd, done = at, end, at
		case tok.IsKeyword():
			span(&out, "k", text)
		case tok == token.STRING || tok == token.CHAR:
			span(&out, "s", text)
		case tok == token.INT || tok == token.FLOAT || tok == token.IMAG:
			span(&out, "n", text)
		case tok == token.COMMENT:
			span(&out, "c", text)
		default:
			out.WriteString(html.EscapeString(text))
		}
	}
	out.WriteString(html.EscapeString(code[done:]))
	return out.String()
}

func span(out *strings.Builder, class, text string) {
	out.WriteString(`<span class="` + class + `">` + html.EscapeString(text) + `</span>`)
}

var predeclared = map[string]bool{
	"any": true, "bool": true, "byte": true, "error": true, "float32": true, "float64": true,
	"int": true, "int8": true, "int16": true, "int32": true, "int64": true, "rune": true,
	"string": true, "uint": true, "uint8": true, "uint16": true, "uint32": true, "uint64": true,
	"uintptr": true, "complex64": true, "complex128": true,
	"true": true, "false": true, "nil": true, "iota": true,
	"append": true, "cap": true, "clear": true, "close": true, "copy": true, "delete": true,
	"len": true, "make": true, "max": true, "min": true, "new": true, "panic": true,
	"print": true, "println": true, "recover": true, "must": true,
}
