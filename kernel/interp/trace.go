package interp

import (
	"go/ast"
	"go/parser"
	"go/token"
	"strconv"
	"strings"
)

// trace is what the text of a cell tells of its use of names at the cells' top
// level. Unlike a Footprint it keeps apart what the cell does when it runs and
// what the functions that it declares will do when they are called.
type trace struct {
	now      use
	set      nameSet         // what it has given another value as a whole
	declares nameSet         // everything, methods as "Type.Method"
	texts    map[string]text // what declares a function, type, constant or import
	later    map[string]*use // by function, method or variable that holds a closure
}

// text is a declaration without its comments and spaces.
type text string

// use is how some code uses names.
type use struct {
	reads   nameSet             // names that come from elsewhere
	own     nameSet             // names used that the cell has declared before
	assigns nameSet             // names given another value, in part or whole
	stores  map[string][]string // places inside names given another value, whatever they held
	uses    nameSet             // the reads that are not only for giving their parts another value
	selects nameSet             // what stands behind a dot: it may be a method
	// keeps: closures in it change variables that nothing else can see.
	keeps bool
}

func newUse() use {
	return use{reads: nameSet{}, own: nameSet{}, assigns: nameSet{}, stores: map[string][]string{}, uses: nameSet{}, selects: nameSet{}}
}

// traceOf reads a cell's text; it returns nil if the text is no Go.
func traceOf(src *source) *trace {
	parts, _, err := split(src)
	if err != nil {
		return nil
	}
	t := &trace{now: newUse(), set: nameSet{}, declares: nameSet{}, texts: map[string]text{}, later: map[string]*use{}}
	for _, p := range parts {
		if p.kind == packagePart {
			continue
		}
		whole := partText(src, p)
		f, err := parser.ParseFile(token.NewFileSet(), src.name, whole, 0)
		if err != nil {
			return nil
		}
		w := &tracer{trace: t, file: f, whole: whole, top: map[*ast.Object]bool{}, free: map[*ast.Ident]bool{}}
		for _, id := range f.Unresolved {
			w.free[id] = true
		}
		nodes := topLevel(f, p.kind)
		for _, n := range nodes {
			w.declaredTop(n)
		}
		for _, n := range nodes {
			w.node(n)
		}
	}
	return t
}

// tracer goes through one part of a cell.
type tracer struct {
	*trace
	file  *ast.File
	whole string
	top   map[*ast.Object]bool // what the part declares at the top level
	free  map[*ast.Ident]bool  // what it does not declare at all
}

func (w *tracer) declaredTop(n ast.Node) {
	note := func(ids ...*ast.Ident) {
		for _, id := range ids {
			if id.Obj != nil {
				w.top[id.Obj] = true
			}
		}
	}
	switch n := n.(type) {
	case *ast.AssignStmt:
		if n.Tok == token.DEFINE {
			for _, l := range n.Lhs {
				if id, ok := l.(*ast.Ident); ok {
					note(id)
				}
			}
		}
	case *ast.LabeledStmt:
		w.declaredTop(n.Stmt)
	case *ast.FuncDecl:
		note(n.Name)
	case *ast.GenDecl:
		for _, sp := range n.Specs {
			switch sp := sp.(type) {
			case *ast.ValueSpec:
				note(sp.Names...)
			case *ast.TypeSpec:
				note(sp.Name)
			}
		}
	}
}

// global reports whether id means something at the cells' top level.
func (w *tracer) global(id *ast.Ident) bool {
	return w.free[id] || id.Obj != nil && w.top[id.Obj]
}

func (w *tracer) node(n ast.Node) {
	names := nameSet{}
	names.addDeclared(n)
	switch n := n.(type) {
	case *ast.FuncDecl:
		u := newUse()
		w.walk(n, &u, nil)
		u.keeps = w.keeps(n)
		for name := range names {
			w.later[name] = &u
			w.texts[name] = w.textOf(n)
		}
	case *ast.GenDecl:
		if n.Tok != token.VAR {
			u := newUse()
			w.walk(n, &u, nil)
			w.specTexts(n)
			w.happens(&u)
			break
		}
		w.statement(n, names)
	case *ast.ForStmt:
		if n.Init == nil {
			w.statement(n, names)
			break
		}
		w.node(n.Init)
		rest := *n
		rest.Init = nil
		w.statement(&rest, names)
	default:
		w.statement(n, names)
	}
	for name := range names {
		w.declares[name] = true
	}
}

// specTexts notes the texts of the constants, types or imports of a declaration.
func (w *tracer) specTexts(d *ast.GenDecl) {
	for i, sp := range d.Specs {
		one := &ast.GenDecl{Tok: d.Tok, Specs: []ast.Spec{sp}}
		names := nameSet{}
		names.addDeclared(one)
		said := text(d.Tok.String()+" ") + w.textOf(sp)
		if d.Tok == token.CONST { // it may count, or repeat the one before it
			said += text(strconv.Itoa(i))
			if v, ok := sp.(*ast.ValueSpec); ok && len(v.Values) == 0 {
				said += w.textOf(d)
			}
		}
		for name := range names {
			w.texts[name] = said
		}
	}
}

// statement takes a statement that runs now. The closures in it may run later,
// too, through the variables that it declares or assigns to.
func (w *tracer) statement(n ast.Node, names nameSet) {
	held := map[*ast.FuncLit]bool{} // closures that are only kept
	for _, e := range values(n) {
		if lit, ok := ast.Unparen(e).(*ast.FuncLit); ok {
			held[lit] = true
		}
	}
	u := newUse()
	w.walk(n, &u, held)
	later := newUse()
	var found bool
	ast.Inspect(n, func(m ast.Node) bool {
		if lit, ok := m.(*ast.FuncLit); ok {
			found = true
			w.walk(lit, &later, nil)
			return false
		}
		return true
	})
	if found {
		later.keeps = w.keeps(n)
		for name := range names {
			w.later[name] = &later
		}
		for name := range u.assigns {
			w.later[name] = &later
		}
	}
	w.happens(&u)
	a, ok := n.(*ast.AssignStmt)
	if !ok || a.Tok != token.ASSIGN {
		return
	}
	for _, l := range a.Lhs {
		if id, ok := l.(*ast.Ident); ok {
			w.set[id.Name] = true
		} else if id := root(l); id != nil && w.global(id) {
			w.now.stores[id.Name] = append(w.now.stores[id.Name], string(w.textOf(l)))
		}
	}
}

// values lists the right sides of an assignment or declaration.
func values(n ast.Node) (out []ast.Expr) {
	switch n := n.(type) {
	case *ast.AssignStmt:
		return n.Rhs
	case *ast.GenDecl:
		for _, sp := range n.Specs {
			if v, ok := sp.(*ast.ValueSpec); ok {
				out = append(out, v.Values...)
			}
		}
	}
	return out
}

// happens adds what a statement does to what the cell does.
func (w *tracer) happens(u *use) {
	for name := range u.reads {
		if w.declares[name] || w.set[name] {
			w.now.own[name] = true
		} else {
			w.now.reads[name] = true
		}
	}
	for name := range u.assigns {
		w.now.assigns[name] = true
	}
	for name := range u.uses {
		w.now.uses[name] = true
	}
	for name := range u.selects {
		w.now.selects[name] = true
	}
}

// walk notes how a node uses names. It leaves out the closures in skip, and the
// names that the node itself declares.
func (w *tracer) walk(n ast.Node, u *use, skip map[*ast.FuncLit]bool) {
	notRead := map[*ast.Ident]bool{}
	target := map[*ast.Ident]bool{}       // whose parts get another value
	if a, ok := n.(*ast.AssignStmt); ok { // a whole variable gets another value
		for _, l := range a.Lhs {
			if id, ok := l.(*ast.Ident); ok && (a.Tok == token.DEFINE || a.Tok == token.ASSIGN) {
				notRead[id] = true
			} else if id := root(l); id != nil && a.Tok == token.ASSIGN {
				target[id] = true
			}
		}
	}
	declared := map[*ast.Ident]bool{}
	switch d := n.(type) {
	case *ast.FuncDecl:
		declared[d.Name] = true
	case *ast.GenDecl:
		for _, sp := range d.Specs {
			switch sp := sp.(type) {
			case *ast.ValueSpec:
				for _, id := range sp.Names {
					declared[id] = true
				}
			case *ast.TypeSpec:
				declared[sp.Name] = true
			}
		}
	}
	ast.Inspect(n, func(m ast.Node) bool {
		switch m := m.(type) {
		case *ast.FuncLit:
			if skip[m] {
				return false
			}
		case *ast.SelectorExpr:
			u.selects[m.Sel.Name] = true
		case *ast.Ident:
			if w.global(m) && !declared[m] && !notRead[m] && m.Name != "_" {
				u.reads[m.Name] = true
				if !target[m] {
					u.uses[m.Name] = true
				}
			}
		}
		if _, address := m.(*ast.UnaryExpr); !address {
			for _, e := range changedBy(m) {
				if id := root(e); id != nil && w.global(id) && !declared[id] && id.Name != "_" {
					u.assigns[id.Name] = true
				}
			}
		}
		return true
	})
}

// keeps reports whether closures inside n assign to variables that n declares
// outside of them: such a closure has a memory of its own.
func (w *tracer) keeps(n ast.Node) (found bool) {
	ast.Inspect(n, func(m ast.Node) bool {
		lit, ok := m.(*ast.FuncLit)
		if !ok {
			return !found
		}
		ast.Inspect(lit.Body, func(k ast.Node) bool {
			if _, address := k.(*ast.UnaryExpr); address {
				return true
			}
			for _, e := range changedBy(k) {
				id := root(e)
				if id == nil || id.Obj == nil || w.top[id.Obj] {
					continue
				}
				if at := id.Obj.Pos(); at.IsValid() && (at < lit.Pos() || at > lit.End()) {
					found = true
				}
			}
			return !found
		})
		return !found
	})
	return found
}

// textOf is the text of a declaration, token by token.
func (w *tracer) textOf(n ast.Node) text {
	from, to := int(n.Pos()-w.file.FileStart), int(n.End()-w.file.FileStart)
	if from < 0 || to > len(w.whole) || from > to {
		return ""
	}
	return plainSource(w.whole[from:to])
}

// plainSource is source text without comments and spaces between its tokens.
func plainSource(s string) text {
	toks, bad := lex(newSource("text", s))
	if bad != nil {
		return text(s)
	}
	var b strings.Builder
	for _, t := range toks {
		if t.lit != "" && !t.auto {
			b.WriteString(t.lit)
		} else if !t.auto {
			b.WriteString(t.tok.String())
		} else {
			b.WriteString(";") // at a line's end
		}
		b.WriteByte(' ')
	}
	return text(strings.TrimRight(strings.ReplaceAll(b.String(), "; }", "}"), "; "))
}

// reach adds to u what the functions it uses do, as far as their texts tell.
// later holds those of the session, by name.
func (u *use) reach(later map[string]*use) {
	done := map[*use]bool{}
	var follow func(v *use)
	follow = func(v *use) {
		if v == nil || done[v] {
			return
		}
		done[v] = true
		for name := range v.reads {
			u.reads[name] = true
		}
		for name := range v.uses {
			u.uses[name] = true
		}
		for name := range v.assigns {
			u.assigns[name] = true
		}
		for name := range v.selects {
			u.selects[name] = true
		}
		for _, names := range []nameSet{v.reads, v.own} {
			for name := range names {
				follow(later[name])
			}
		}
		for name := range v.selects {
			for method, m := range later {
				if _, sel, ok := strings.Cut(method, "."); ok && sel == name {
					u.reads[method] = true
					follow(m)
				}
			}
		}
	}
	start := use{reads: nameSet{}, own: u.own, assigns: u.assigns, selects: nameSet{}}
	for name := range u.reads {
		start.reads[name] = true
	}
	for name := range u.selects {
		start.selects[name] = true
	}
	follow(&start)
}
