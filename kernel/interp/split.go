package interp

import (
	"fmt"
	"go/scanner"
	"go/token"
)

// A cell mixes declarations and statements freely, which no Go file may. split
// cuts it into parts of one kind by looking at its tokens alone.

type partKind int

const (
	stmtPart partKind = iota
	importPart
	funcPart
	packagePart
)

// part is a stretch of the cell, src.text[start:end].
type part struct {
	kind       partKind
	start, end int
}

type lexeme struct {
	tok  token.Token
	lit  string
	off  int
	auto bool // a semicolon the scanner put in at a line's end
}

// lex returns the tokens of a cell, without comments. The scanner's own
// complaints (unterminated string, stray character) become the error.
func lex(src *source) ([]lexeme, *syntaxError) {
	fset := token.NewFileSet()
	f := fset.AddFile(src.name, -1, len(src.text))
	var first *syntaxError
	var s scanner.Scanner
	s.Init(f, []byte(src.text), func(p token.Position, msg string) {
		if first == nil {
			first = &syntaxError{msg: msg, at: place{src, p.Line, p.Column}}
		}
	}, 0)
	var out []lexeme
	for {
		pos, tok, lit := s.Scan()
		if tok == token.EOF {
			break
		}
		out = append(out, lexeme{tok, lit, f.Offset(pos), tok == token.SEMICOLON && lit != ";"})
	}
	if first != nil {
		switch first.msg {
		case "raw string literal not terminated", "comment not terminated":
			first.open = true
		}
	}
	return out, first
}

// placeAt turns a byte offset into a place.
func (s *source) placeAt(off int) place {
	line, start := 1, 0
	for i := 0; i < off && i < len(s.text); i++ {
		if s.text[i] == '\n' {
			line++
			start = i + 1
		}
	}
	return place{s, line, off - start + 1}
}

var closes = map[token.Token]token.Token{token.RPAREN: token.LPAREN, token.RBRACK: token.LBRACK, token.RBRACE: token.LBRACE}

// balance checks that brackets pair up.
func balance(src *source, toks []lexeme) *syntaxError {
	var open []lexeme
	for _, t := range toks {
		switch t.tok {
		case token.LPAREN, token.LBRACK, token.LBRACE:
			open = append(open, t)
		case token.RPAREN, token.RBRACK, token.RBRACE:
			if len(open) == 0 {
				return &syntaxError{msg: fmt.Sprintf("this %s closes nothing", t.tok), at: src.placeAt(t.off)}
			}
			o := open[len(open)-1]
			if o.tok != closes[t.tok] {
				op := src.placeAt(o.off)
				return &syntaxError{msg: fmt.Sprintf("this %s does not fit the %s of line %d", t.tok, o.tok, op.line), at: src.placeAt(t.off)}
			}
			open = open[:len(open)-1]
		}
	}
	if n := len(open); n > 0 {
		o := open[n-1]
		return &syntaxError{msg: fmt.Sprintf("this %s is never closed", o.tok), at: src.placeAt(o.off), open: true}
	}
	return nil
}

// split cuts a cell into parts. quiet reports a semicolon written at its end.
func split(src *source) (parts []part, quiet bool, err error) {
	toks, bad := lex(src)
	if bad != nil {
		return nil, false, bad
	}
	if bad := balance(src, toks); bad != nil {
		return nil, false, bad
	}
	depth := 0
	begin := true // the next token starts a declaration or statement
	for i, t := range toks {
		if begin && t.tok != token.SEMICOLON {
			k := kindAt(toks[i:])
			if n := len(parts); n == 0 || parts[n-1].kind != k || k == packagePart {
				parts = append(parts, part{kind: k, start: t.off})
			}
			begin = false
		}
		switch t.tok {
		case token.LPAREN, token.LBRACK, token.LBRACE:
			depth++
		case token.RPAREN, token.RBRACK, token.RBRACE:
			depth--
		case token.SEMICOLON:
			begin = begin || depth == 0
			if n := len(parts); n > 0 && depth == 0 {
				parts[n-1].end = t.off
			}
		}
	}
	if n := len(toks); n > 0 {
		last := toks[n-1]
		quiet = last.tok == token.SEMICOLON && !last.auto
		if n > 1 && last.tok == token.SEMICOLON && last.auto {
			quiet = toks[n-2].tok == token.SEMICOLON && !toks[n-2].auto
		}
	}
	// Between parts there are only comments and space, which belong to the part
	// that follows.
	for i := range parts {
		if i > 0 {
			parts[i].start = parts[i-1].end
		} else {
			parts[i].start = 0
		}
		if i == len(parts)-1 {
			parts[i].end = len(src.text)
		}
	}
	return parts, quiet, nil
}

// kindAt tells what the declaration or statement that starts at toks[0] is. A
// "func" that starts a function literal is a statement.
func kindAt(toks []lexeme) partKind {
	switch toks[0].tok {
	case token.IMPORT:
		return importPart
	case token.PACKAGE:
		return packagePart
	case token.FUNC:
	default:
		return stmtPart
	}
	at := func(i int) token.Token {
		if i < len(toks) {
			return toks[i].tok
		}
		return token.EOF
	}
	if at(1) == token.IDENT {
		return funcPart
	}
	if at(1) != token.LPAREN {
		return stmtPart
	}
	depth, i := 0, 1
	for ; i < len(toks); i++ {
		switch toks[i].tok {
		case token.LPAREN:
			depth++
		case token.RPAREN:
			depth--
		}
		if depth == 0 {
			break
		}
	}
	// func (receiver) Name( : a method
	if at(i+1) == token.IDENT && at(i+2) == token.LPAREN {
		return funcPart
	}
	return stmtPart
}
