package interp

import (
	"fmt"
	"go/ast"
	"go/token"
	"reflect"
	"strings"

	"github.com/cosmos72/gomacro/base/untyped"
	"github.com/cosmos72/gomacro/fast"

	"rotorhum/kernel/show"
)

// An autopsy looks at the statement in which a cell stopped and evaluates the
// parts of it that may be to blame, with the values that the variables still
// have. It runs nothing: calls and anything else with an effect are left out.
type autopsy struct {
	in   *Interp
	src  *source
	vars variables
	stmt ast.Node
}

// examine prepares the autopsy of the statement at the innermost frame.
func (in *Interp) examine(stack []frame) *autopsy {
	if len(stack) == 0 || stack[0].env == nil {
		return nil
	}
	at := in.lib.place(stack[0].pos)
	if !at.known() {
		return nil
	}
	vars, ok := in.variablesAt(stack[0].pos, stack[0].env)
	if !ok {
		return nil
	}
	lib := in.lib.scratch()
	sc, err := lib.parse(newSource(at.src.name, at.src.text))
	if err != nil {
		return nil
	}
	defer lib.forget()
	a := &autopsy{in: in, src: at.src, vars: vars}
	for _, n := range sc.nodes {
		ast.Inspect(n, func(m ast.Node) bool {
			switch m.(type) {
			case ast.Stmt, *ast.GenDecl, *ast.FuncDecl:
				p := lib.place(m.Pos())
				if p.line < at.line || p.line == at.line && p.col <= at.col {
					if _, block := m.(*ast.BlockStmt); !block {
						a.stmt = m // the last one that begins there is the innermost
					}
				}
			}
			return true
		})
	}
	if a.stmt == nil {
		return nil
	}
	return a
}

// parts calls f for every expression of the statement that was under way, from
// the inside out. Bodies of loops and functions are statements of their own.
func (a *autopsy) parts(f func(ast.Expr) bool) {
	var walk func(n ast.Node) bool
	done := false
	walk = func(n ast.Node) bool {
		if n == nil || done {
			return false
		}
		switch n.(type) {
		case *ast.BlockStmt, *ast.FuncLit:
			return false
		}
		children(n, func(c ast.Node) { walk(c) })
		if e, ok := n.(ast.Expr); ok && !done {
			done = !f(e)
		}
		return false
	}
	walk(a.stmt)
}

// children calls f for the direct children of n.
func children(n ast.Node, f func(ast.Node)) {
	first := true
	ast.Inspect(n, func(m ast.Node) bool {
		if first {
			first = false
			return true
		}
		if m != nil {
			f(m)
		}
		return false
	})
}

// text is an expression as the cell has it.
func (a *autopsy) text(e ast.Expr) string { return exprText(e) }

// outOfRange explains an index that does not exist.
func (a *autopsy) outOfRange() (why string) {
	a.parts(func(e ast.Expr) bool {
		switch e := e.(type) {
		case *ast.IndexExpr:
			list, ok := a.length(e.X)
			if !ok {
				return true
			}
			i, ok := a.integer(e.Index)
			if ok && (i < 0 || i >= list) {
				why = fmt.Sprintf("%s but %s has %s", a.isNow(e.Index, i), a.text(e.X), counted(list, "element"))
				if list > 0 {
					why += fmt.Sprintf(", numbered 0 to %d", list-1)
				}
				return false
			}
		case *ast.SliceExpr:
			list, ok := a.length(e.X)
			if !ok {
				return true
			}
			lo, hi := 0, list
			if e.Low != nil {
				if lo, ok = a.integer(e.Low); !ok {
					return true
				}
			}
			if e.High != nil {
				if hi, ok = a.integer(e.High); !ok {
					return true
				}
			}
			if lo < 0 || lo > hi || hi > a.capacity(e.X, list) {
				why = fmt.Sprintf("%s asks for elements %d to %d, but %s has %s", a.text(e), lo, hi, a.text(e.X), counted(list, "element"))
				return false
			}
		}
		return true
	})
	return why
}

// isNow says what an expression came to, unless that is obvious.
func (a *autopsy) isNow(e ast.Expr, n int) string {
	if _, ok := e.(*ast.BasicLit); ok {
		return fmt.Sprintf("The index is %d", n)
	}
	return fmt.Sprintf("%s is %d", a.text(e), n)
}

func counted(n int, noun string) string {
	switch n {
	case 0:
		return "no " + noun + "s"
	case 1:
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// nilPart finds what is nil and should not be.
func (a *autopsy) nilPart() (what string) {
	check := func(e ast.Expr) bool {
		v, ok := a.value(e)
		if !ok {
			return true
		}
		if !v.IsValid() {
			what = a.text(e)
			return false
		}
		if v.Kind() == reflect.Interface && !v.IsNil() {
			v = v.Elem()
		}
		switch v.Kind() {
		case reflect.Pointer, reflect.Interface, reflect.Func, reflect.Map:
			if v.IsNil() {
				what = a.text(e)
				return false
			}
		}
		return true
	}
	a.parts(func(e ast.Expr) bool {
		switch e := e.(type) {
		case *ast.SelectorExpr:
			return check(e.X)
		case *ast.StarExpr:
			return check(e.X)
		case *ast.CallExpr:
			return check(e.Fun)
		}
		return true
	})
	return what
}

// nilMap finds the map without storage that was written to.
func (a *autopsy) nilMap() (what string) {
	a.parts(func(e ast.Expr) bool {
		if e, ok := e.(*ast.IndexExpr); ok {
			if v, ok := a.value(e.X); ok && v.IsValid() && v.Kind() == reflect.Map && v.IsNil() {
				what = a.text(e.X)
				return false
			}
		}
		return true
	})
	return what
}

// zeroDivisor finds the divisor that is zero.
func (a *autopsy) zeroDivisor() (what string) {
	a.parts(func(e ast.Expr) bool {
		if e, ok := e.(*ast.BinaryExpr); ok && (e.Op == token.QUO || e.Op == token.REM) {
			if n, ok := a.integer(e.Y); ok && n == 0 {
				what = a.text(e.Y)
				return false
			}
		}
		return true
	})
	if s, ok := a.stmt.(*ast.AssignStmt); ok && what == "" && (s.Tok == token.QUO_ASSIGN || s.Tok == token.REM_ASSIGN) {
		if n, ok := a.integer(s.Rhs[0]); ok && n == 0 {
			what = a.text(s.Rhs[0])
		}
	}
	return what
}

// values lists the simple variables of the statement with their values.
func (a *autopsy) values() string {
	var out []string
	seen := map[string]bool{}
	if s, ok := a.stmt.(*ast.AssignStmt); ok && s.Tok == token.DEFINE {
		for _, name := range identNames(s.Lhs...) {
			seen[name] = true // it has no value yet
		}
	}
	a.parts(func(e ast.Expr) bool {
		id, ok := e.(*ast.Ident)
		if !ok || seen[id.Name] || len(out) == maxValues {
			return true
		}
		seen[id.Name] = true
		v, t, ok := a.vars.lookup(id.Name)
		if !ok || t == nil {
			return true
		}
		switch t.Kind() {
		case reflect.Func, reflect.Chan, reflect.Invalid:
			return true
		}
		switch v.ReflectValue().Interface().(type) {
		case *fast.Import, untyped.Lit:
			return true // a package or a constant
		}
		if t.PkgPath() != "" && t.PkgPath() != cellPath {
			if k := t.Kind(); k == reflect.Struct || k == reflect.Pointer {
				return true // of a package: long and no help
			}
		}
		text := oneLine(show.Text(a.in.toAny(v, t)))
		if v.Kind() == reflect.String {
			text = fmt.Sprintf("%q", text)
		}
		if len(text) > maxValueText {
			text = strings.ToValidUTF8(text[:maxValueText], "") + "…"
		}
		out = append(out, id.Name+" = "+text)
		return true
	})
	return strings.Join(out, ", ")
}

const (
	maxValues    = 5
	maxValueText = 80
)
