package interp

import (
	"go/ast"
	"go/parser"
	"go/scanner"
	"go/token"
	"strings"
)

// source is the text of one cell and the name it goes by in positions.
type source struct {
	name  string
	text  string
	lines []string
}

func newSource(name, text string) *source {
	return &source{name: name, text: text, lines: strings.Split(text, "\n")}
}

// line returns the n-th line, counted from 1, or "".
func (s *source) line(n int) string {
	if n < 1 || n > len(s.lines) {
		return ""
	}
	return strings.TrimRight(s.lines[n-1], "\r")
}

// place is a position in a cell: 1-based line and byte column, 0 if unknown.
type place struct {
	src       *source
	line, col int
}

func (p place) known() bool { return p.src != nil && p.line > 0 }

// script is a cell in syntax-tree form: its top-level nodes in the order in
// which they were written, each an ast.Decl or an ast.Stmt.
type script struct {
	src   *source
	nodes []ast.Node
	quiet bool // the cell ends in an explicit semicolon: show no result
}

// runMain adds a call of main to a script that is a whole program, with a
// package clause and a function main.
func (sc *script) runMain() {
	for _, n := range sc.nodes {
		if f, ok := n.(*ast.FuncDecl); ok && f.Recv == nil && f.Name.Name == "main" && f.Type.Params.NumFields() == 0 {
			sc.nodes = append(sc.nodes, stmtOf(callAt(f.Name.Pos(), "main")))
			return
		}
	}
}

// A syntaxError is a fault of the text itself.
type syntaxError struct {
	at  place
	msg string
	// open reports that the text could become valid by going on.
	open bool
}

func (e *syntaxError) Error() string { return e.msg }

// library holds the parsed cells of one interpreter, so that a token.Pos can
// be turned back into a line of a cell at any later time.
type library struct {
	fset *token.FileSet
	src  map[*token.File]*source
}

func newLibrary() *library {
	return &library{fset: token.NewFileSet(), src: map[*token.File]*source{}}
}

// scratch is a library of its own in the same file set, for text that is looked
// at and forgotten again.
func (l *library) scratch() *library {
	return &library{l.fset, map[*token.File]*source{}}
}

// forget drops everything that has been parsed.
func (l *library) forget() {
	for f := range l.src {
		l.fset.RemoveFile(f)
		delete(l.src, f)
	}
}

// place finds the cell, line and column of pos.
func (l *library) place(pos token.Pos) place {
	if !pos.IsValid() {
		return place{}
	}
	f := l.fset.File(pos)
	if f == nil || l.src[f] == nil {
		return place{}
	}
	p := f.PositionFor(pos, false)
	return place{l.src[f], p.Line - prologueLines, p.Column}
}

// Each part of a cell is parsed as a Go file of its own whose first line holds
// the wrapping, and whose cell text keeps its line and column.
const (
	prologueLines = 1
	declPrologue  = "package p\n"
	stmtPrologue  = "package p;func _(){\n"
)

// parse splits a cell into parts and parses them. The error is a *syntaxError.
func (l *library) parse(src *source) (*script, error) {
	parts, quiet, err := split(src)
	if err != nil {
		return nil, err
	}
	sc := &script{src: src, quiet: quiet}
	for _, p := range parts {
		nodes, err := l.parsePart(src, p)
		if err != nil {
			return nil, err
		}
		sc.nodes = append(sc.nodes, nodes...)
	}
	if len(parts) > 0 && parts[0].kind == packagePart {
		sc.runMain()
	}
	return sc, nil
}

func (l *library) parsePart(src *source, p part) ([]ast.Node, error) {
	if p.kind == packagePart {
		return nil, nil
	}
	f, err := parser.ParseFile(l.fset, src.name, partText(src, p), parser.SkipObjectResolution|parser.ParseComments)
	if f != nil {
		if tf := l.fset.File(f.Package); tf != nil {
			l.src[tf] = src
		}
	}
	if err != nil {
		return nil, asSyntaxError(src, err)
	}
	return topLevel(f, p.kind), nil
}

// partText is a part of a cell as a Go file.
func partText(src *source, p part) string {
	head, tail := declPrologue, "\n"
	if p.kind == stmtPart {
		head, tail = stmtPrologue, "\n}"
	}
	return head + blank(src.text[:p.start]) + src.text[p.start:p.end] + tail
}

// topLevel lists the declarations and statements of a parsed part.
func topLevel(f *ast.File, kind partKind) (nodes []ast.Node) {
	if kind != stmtPart {
		for _, d := range f.Decls {
			nodes = append(nodes, d)
		}
		return nodes
	}
	for _, s := range f.Decls[0].(*ast.FuncDecl).Body.List {
		switch s := s.(type) {
		case *ast.EmptyStmt:
		case *ast.DeclStmt:
			nodes = append(nodes, s.Decl)
		default:
			nodes = append(nodes, s)
		}
	}
	return nodes
}

func asSyntaxError(src *source, err error) error {
	list, ok := err.(scanner.ErrorList)
	if !ok || len(list) == 0 {
		return &syntaxError{msg: err.Error(), at: place{src, 1, 1}}
	}
	e := list[0]
	at := place{src, e.Pos.Line - prologueLines, e.Pos.Column}
	end := src.placeAt(len(strings.TrimRight(src.text, " \t\r\n")))
	open := at.line > end.line || at.line == end.line && at.col >= end.col
	if open {
		at = end // the parser met the end of the cell
	}
	return &syntaxError{msg: e.Msg, at: at, open: open}
}

// blank keeps the line structure of s and replaces everything else by spaces.
func blank(s string) string {
	b := []byte(s)
	for i, c := range b {
		if c != '\n' && c != '\t' {
			b[i] = ' '
		}
	}
	return string(b)
}
