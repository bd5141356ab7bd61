package interp

import (
	"go/ast"
	"go/token"
	"go/types"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"

	"github.com/gopherdata/gophernotes/imports"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/interp/typing"
)

// Complete lists what could stand at byte offset pos of code: after a dot the
// members of what is before it, in a composite literal the fields, in an
// import the packages, in any other string the files, and elsewhere names.
func (in *Interp) Complete(code string, pos int) (out cell.Completion) {
	pos = min(max(pos, 0), len(code))
	out = cell.Completion{Start: pos, End: pos}
	defer func() {
		if recover() != nil { // half-written code may surprise any checker
			out.Matches = nil
		}
	}()
	if text, isImport, ok := stringAt(code, pos); ok {
		return in.completeString(text, isImport, pos)
	}
	word := wordBefore(code, pos)
	out.Start = pos - len(word)
	c := in.lookAt(code, out.Start)
	if c == nil {
		return out
	}
	matches := in.candidates(c)
	out.Matches = pick(matches, word)
	return out
}

// stringAt reports whether pos is inside a string literal, and returns the
// part of it before pos.
func stringAt(code string, pos int) (text string, isImport, ok bool) {
	toks, _ := lex(newSource("", code))
	importing := false
	for i, t := range toks {
		switch t.tok {
		case token.IMPORT:
			importing = true
		case token.STRING:
			// the scanner takes an unterminated string up to the line's end
			end := t.off + len(t.lit)
			closed := len(t.lit) > 1 && t.lit[len(t.lit)-1] == t.lit[0]
			if pos > t.off && (pos < end || pos == end && !closed) {
				return code[t.off+1 : pos], importing && t.lit[0] == '"', true
			}
		case token.LPAREN, token.SEMICOLON, token.IDENT:
		default:
			if i > 0 && t.tok != token.RPAREN && t.tok != token.PERIOD {
				importing = false
			}
		}
		if t.tok == token.RPAREN || t.tok == token.SEMICOLON && i > 0 && toks[i-1].tok == token.STRING && !inParens(toks[:i]) {
			importing = false
		}
	}
	return "", false, false
}

// inParens reports whether a bracket is open at the end of toks.
func inParens(toks []lexeme) bool {
	depth := 0
	for _, t := range toks {
		switch t.tok {
		case token.LPAREN:
			depth++
		case token.RPAREN:
			depth--
		}
	}
	return depth > 0
}

// completeString completes a package path or a file name.
func (in *Interp) completeString(text string, isImport bool, pos int) cell.Completion {
	out := cell.Completion{Start: pos - len(text), End: pos}
	if isImport {
		for path := range imports.Packages {
			if strings.HasPrefix(path, text) && !strings.HasPrefix(path, "github.com/cosmos72/") && !strings.HasPrefix(path, hidden) {
				sig := ""
				if s, _, ok := in.doc(path, ""); ok {
					sig = s
				}
				out.Matches = append(out.Matches, cell.Match{Text: path, Kind: "package", Signature: sig})
			}
		}
		sortMatches(out.Matches)
		return out
	}
	if strings.ContainsAny(text, "\n\"%{}<>") {
		return cell.Completion{Start: pos, End: pos}
	}
	dir, prefix := filepath.Split(text)
	look := dir
	if look == "" {
		look = "."
	}
	entries, err := os.ReadDir(look)
	if err != nil {
		return cell.Completion{Start: pos, End: pos}
	}
	for _, e := range entries {
		name := e.Name()
		if !strings.HasPrefix(name, prefix) || strings.HasPrefix(name, ".") && prefix == "" {
			continue
		}
		kind := "file"
		if e.IsDir() {
			name, kind = name+"/", "directory"
		}
		out.Matches = append(out.Matches, cell.Match{Text: dir + name, Kind: kind})
	}
	sortMatches(out.Matches)
	return out
}

// candidates lists all that could stand at the cursor.
func (in *Interp) candidates(c *cursor) []cell.Match {
	if sel, ok := c.parent(1).(*ast.SelectorExpr); ok && sel.Sel == c.ident {
		return in.members(c.view, sel.X)
	}
	var out []cell.Match
	if lit, ok := c.literal(); ok {
		if t, _ := c.view.TypeOf(lit); t != nil {
			if p, ok := t.Underlying().(*types.Pointer); ok {
				t = p.Elem()
			}
			if st, ok := t.Underlying().(*types.Struct); ok {
				for f := range st.Fields() {
					if f.Exported() || f.Pkg() != nil && f.Pkg().Path() == cellPath {
						out = append(out, in.match(f, t))
					}
				}
				if keyed(lit) {
					return out
				}
			}
		}
	}
	seen := map[string]bool{}
	add := func(name string, o types.Object) {
		if !seen[name] && !strings.HasPrefix(name, hidden) && name != "_" {
			seen[name] = true
			m := in.match(o, nil)
			m.Text = name
			out = append(out, m)
		}
	}
	for name, o := range c.view.Locals(c.ident.Pos()) {
		add(name, o)
	}
	for name, o := range c.view.Names {
		add(name, o)
	}
	for name, o := range in.view.Base() {
		add(name, o)
	}
	for _, name := range types.Universe.Names() {
		add(name, types.Universe.Lookup(name))
	}
	for k := token.BREAK; k <= token.VAR; k++ {
		if name := k.String(); token.IsKeyword(name) && !seen[name] {
			out = append(out, cell.Match{Text: name, Kind: "keyword"})
		}
	}
	return out
}

// literal returns the composite literal that the cursor is an element of, at a
// place where the name of a field may stand.
func (c *cursor) literal() (*ast.CompositeLit, bool) {
	if lit, ok := c.parent(1).(*ast.CompositeLit); ok && lit.Type != c.path[len(c.path)-1] {
		return lit, true
	}
	if kv, ok := c.parent(1).(*ast.KeyValueExpr); ok && kv.Key == c.ident {
		lit, ok := c.parent(2).(*ast.CompositeLit)
		return lit, ok
	}
	return nil, false
}

// keyed reports whether a literal names its fields.
func keyed(lit *ast.CompositeLit) bool {
	for _, e := range lit.Elts {
		if _, ok := e.(*ast.KeyValueExpr); ok {
			return true
		}
	}
	return false
}

// members lists what can be selected from x.
func (in *Interp) members(v *typing.View, x ast.Expr) []cell.Match {
	var out []cell.Match
	if id, ok := x.(*ast.Ident); ok {
		if pn, ok := v.Lookup(id.Name, id.Pos()).(*types.PkgName); ok {
			path := pn.Imported().Path()
			for _, name := range in.view.Members(path) {
				if o := in.view.Exported(path, name); o != nil {
					out = append(out, in.match(o, nil))
				}
			}
			return out
		}
	}
	t, isType := v.TypeOf(x)
	if t == nil {
		return nil
	}
	if tuple, ok := t.(*types.Tuple); ok {
		if tuple.Len() != 1 {
			return nil
		}
		t = tuple.At(0).Type()
	}
	for _, m := range typing.MembersOf(t) {
		if _, isFunc := m.Object.(*types.Func); isFunc || !isType {
			out = append(out, in.match(m.Object, m.Owner))
		}
	}
	return out
}

// match describes an object as a completion. owner is the type that a field or
// method belongs to.
func (in *Interp) match(o types.Object, owner types.Type) cell.Match {
	m := cell.Match{Text: o.Name(), Signature: in.signatureOf(o, owner)}
	switch o := o.(type) {
	case *types.Func:
		m.Kind = "function"
		if o.Signature().Recv() != nil || owner != nil {
			m.Kind = "method"
		}
	case *types.Builtin:
		m.Kind = "function"
	case *types.Var:
		m.Kind = "variable"
		if o.IsField() {
			m.Kind = "field"
		}
	case *types.Const, *types.Nil:
		m.Kind = "constant"
	case *types.TypeName:
		m.Kind = "type"
	case *types.PkgName:
		m.Kind = "package"
		m.Signature = strconv.Quote(o.Imported().Path())
	}
	return m
}

// pick keeps the candidates that begin with word; if there are none, those
// that do so but for upper and lower case.
func pick(all []cell.Match, word string) []cell.Match {
	var exact, loose []cell.Match
	for _, m := range all {
		switch {
		case strings.HasPrefix(m.Text, word):
			exact = append(exact, m)
		case len(m.Text) >= len(word) && strings.EqualFold(m.Text[:len(word)], word):
			loose = append(loose, m)
		}
	}
	if len(exact) == 0 {
		exact = loose
	}
	sortMatches(exact)
	return exact
}

func sortMatches(ms []cell.Match) {
	sort.Slice(ms, func(i, j int) bool { return ms[i].Text < ms[j].Text })
}
