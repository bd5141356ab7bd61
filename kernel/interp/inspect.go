package interp

import (
	"go/ast"
	"go/token"
	"go/types"
	"sort"
	"strings"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/interp/typing"
	"rotorhum/kernel/show"
)

// Inspect describes the name at byte offset pos of code, or else the function
// in whose call pos stands: its declaration and doc comment, for a variable
// its type, value and shape. detail 1 adds the members of a type or package
// and the source of what a cell has declared.
func (in *Interp) Inspect(code string, pos, detail int) (b cell.Bundle, found bool) {
	pos = min(max(pos, 0), len(code))
	defer func() {
		if recover() != nil { // half-written code may surprise any checker
			b, found = cell.Bundle{}, false
		}
	}()
	o, owner, v := in.objectAt(code, pos)
	if o == nil {
		return cell.Bundle{}, false
	}
	text := in.describe(o, owner, detail, v)
	if text == "" {
		return cell.Bundle{}, false
	}
	return cell.Bundle{Data: map[string]any{show.TextPlain: text}, Metadata: map[string]any{}}, true
}

// objectAt finds the object that the code at pos is about.
func (in *Interp) objectAt(code string, pos int) (types.Object, types.Type, *typing.View) {
	before, after := wordBefore(code, pos), wordAfter(code, pos)
	start := pos - len(before)
	if name := before + after; name != "" {
		if o, owner, v := in.objectNamed(code, start, name); o != nil {
			return o, owner, v
		}
	}
	// The name of the function whose call is open at pos.
	toks, _ := lex(newSource("", code[:pos]))
	depth := 0
	for i := len(toks) - 1; i > 0; i-- {
		switch toks[i].tok {
		case token.RPAREN, token.RBRACE, token.RBRACK:
			depth++
		case token.LBRACE, token.LBRACK:
			depth--
		case token.LPAREN:
			if depth--; depth < 0 {
				if t := toks[i-1]; t.tok == token.IDENT {
					return in.objectNamed(code, t.off, t.lit)
				}
			}
		}
	}
	return nil, nil, nil
}

// objectNamed finds the object of a name that begins at byte offset start.
func (in *Interp) objectNamed(code string, start int, name string) (types.Object, types.Type, *typing.View) {
	c := in.lookAt(code, start)
	if c == nil {
		return nil, nil, nil
	}
	if sel, ok := c.parent(1).(*ast.SelectorExpr); ok && sel.Sel == c.ident {
		if id, ok := sel.X.(*ast.Ident); ok {
			if pn, ok := c.view.Lookup(id.Name, id.Pos()).(*types.PkgName); ok {
				return in.view.Exported(pn.Imported().Path(), name), nil, c.view
			}
		}
		t, _ := c.view.TypeOf(sel.X)
		if t == nil {
			return nil, nil, nil
		}
		for _, m := range typing.MembersOf(t) {
			if m.Object.Name() == name {
				return m.Object, m.Owner, c.view
			}
		}
		return nil, nil, nil
	}
	if lit, ok := c.literal(); ok {
		if t, _ := c.view.TypeOf(lit); t != nil {
			if st, ok := t.Underlying().(*types.Struct); ok {
				for f := range st.Fields() {
					if f.Name() == name {
						return f, t, c.view
					}
				}
			}
		}
	}
	if o := c.view.Lookup(name, c.ident.Pos()); o != nil {
		return o, ownerOf(o), c.view
	}
	// The name may be declared just here.
	whole := in.lib.scratch()
	defer whole.forget()
	sc, err := whole.parse(newSource("", code))
	if err != nil {
		return nil, nil, nil
	}
	v := in.view.Look(sc.nodes)
	for id, o := range v.Info.Defs {
		if id.Name == name && o != nil {
			if p := in.lib.fset.Position(id.Pos()); p.Line-prologueLines == newSource("", code).placeAt(start).line {
				return o, ownerOf(o), v
			}
		}
	}
	return nil, nil, nil
}

// describe is the text of the pager or tooltip.
func (in *Interp) describe(o types.Object, owner types.Type, detail int, v *typing.View) string {
	var parts []string
	add := func(s string) {
		if s = strings.TrimRight(s, "\n "); s != "" {
			parts = append(parts, s)
		}
	}
	if pn, ok := o.(*types.PkgName); ok {
		path := pn.Imported().Path()
		sig, text, ok := in.doc(path, "")
		if !ok {
			sig = "package " + pn.Imported().Name() + " // import \"" + path + "\""
		}
		add(sig)
		add(text)
		if detail > 0 {
			add(in.listMembers(in.packageMembers(path)))
		}
		return strings.Join(parts, "\n\n")
	}
	sig, text, documented := in.docOf(o, owner)
	if !documented || sig == "" {
		sig = in.signatureOf(o, owner)
	}
	if b, ok := o.(*types.Builtin); ok {
		text = builtinTexts[b.Name()]
	}
	add(sig)
	if val, ok := o.(*types.Var); ok && !val.IsField() && in.view.Live()[o.Name()] == o {
		add(in.describeValue(o.Name(), detail))
	}
	add(text)
	if text == "" { // a variable is explained by its type
		if val, ok := o.(*types.Var); ok {
			if n := namedOf(val.Type()); n != nil {
				if _, t, ok := in.docOf(n.Obj(), nil); ok {
					add(t)
				}
			}
		}
	}
	if tn, ok := o.(*types.TypeName); ok && detail > 0 {
		var ms []cell.Match
		for _, m := range typing.MembersOf(tn.Type()) {
			if _, isFunc := m.Object.(*types.Func); isFunc {
				ms = append(ms, in.match(m.Object, m.Owner))
			}
		}
		add(in.listMembers(ms))
	}
	if d, ok := in.source(o, owner); ok && detail > 0 {
		add(d.text)
	}
	if p := o.Pkg(); p != nil && p.Path() != cellPath {
		add("package " + p.Path())
	}
	return strings.Join(parts, "\n\n")
}

func (in *Interp) packageMembers(path string) []cell.Match {
	var out []cell.Match
	for _, name := range in.view.Members(path) {
		if o := in.view.Exported(path, name); o != nil {
			out = append(out, in.match(o, nil))
		}
	}
	return out
}

func (in *Interp) listMembers(ms []cell.Match) string {
	sort.Slice(ms, func(i, j int) bool { return ms[i].Text < ms[j].Text })
	var lines []string
	for _, m := range ms {
		lines = append(lines, m.Signature)
	}
	return strings.Join(lines, "\n")
}

// Limits of the value in a description.
const (
	briefValue = 400
	fullValue  = 4000
)

// describeValue says what a variable holds.
func (in *Interp) describeValue(name string, detail int) string {
	sym := in.ir.Comp.TryResolve(name)
	if sym == nil {
		return ""
	}
	x := in.toAny(in.ir.ValueOf(name), sym.Type)
	text := show.Text(x)
	limit := briefValue
	if detail > 0 {
		limit = fullValue
	}
	if len(text) > limit {
		text = strings.ToValidUTF8(text[:limit], "") + " …"
	}
	out := "value: " + text
	if shape := show.Shape(unboxed(x)); shape != "" {
		out += "\nshape: " + shape
	}
	return out
}

// unboxed takes a value out of its box.
func unboxed(x any) any {
	switch b := x.(type) {
	case *box:
		return b.value().Interface()
	case *textBox:
		return b.box.value().Interface()
	case *errorBox:
		return b.box.value().Interface()
	}
	return x
}

var builtinTexts = map[string]string{
	"append":  "append adds elements at the end of a slice and returns the longer slice; assign it back: s = append(s, x).",
	"cap":     "cap returns how long a slice can grow before it is copied, or the size of a channel's buffer.",
	"clear":   "clear removes all entries of a map, or sets all elements of a slice to zero.",
	"close":   "close says that no more values will be sent on a channel.",
	"complex": "complex makes a complex number of its real and imaginary part.",
	"copy":    "copy copies elements from one slice into another and returns how many: as many as the shorter one has.",
	"delete":  "delete removes the entry of a key from a map; without such an entry it does nothing.",
	"imag":    "imag returns the imaginary part of a complex number.",
	"len":     "len returns the number of elements of a slice, array, map or channel, or of bytes in a string.",
	"make":    "make makes a slice of a given length, a map or a channel.",
	"max":     "max returns the largest of its arguments.",
	"min":     "min returns the smallest of its arguments.",
	"new":     "new returns a pointer to a new zero value of a type.",
	"panic":   "panic ends the cell with a message, unless a deferred function recovers.",
	"print":   "print writes to the error stream; use fmt.Print.",
	"println": "println writes to the error stream; use fmt.Println.",
	"real":    "real returns the real part of a complex number.",
	"recover": "recover, in a deferred function, stops a panic and returns its value.",
}
