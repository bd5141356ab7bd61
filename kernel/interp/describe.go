package interp

import (
	"go/types"
	"strings"
)

// doc finds the documentation of a name of a compiled package.
func (in *Interp) doc(path, name string) (signature, text string, ok bool) {
	if in.opt.Docs == nil {
		return "", "", false
	}
	return in.opt.Docs(path, name)
}

// docOf finds the documentation of an object. owner is the type that a field
// or method belongs to, or nil.
func (in *Interp) docOf(o types.Object, owner types.Type) (signature, text string, ok bool) {
	if o.Pkg() == nil {
		return "", "", false
	}
	name := o.Name()
	path := o.Pkg().Path()
	if owner != nil {
		n := namedOf(owner)
		if n == nil {
			return "", "", false
		}
		name = n.Obj().Name() + "." + name
		if n.Obj().Pkg() != nil {
			path = n.Obj().Pkg().Path()
		}
	}
	if path == cellPath {
		d, ok := in.source(o, owner)
		return d.signature, d.doc, ok
	}
	return in.doc(path, name)
}

// namedOf returns the defined type that t is or points to, or nil.
func namedOf(t types.Type) *types.Named {
	t = types.Unalias(t)
	if p, ok := t.(*types.Pointer); ok {
		t = types.Unalias(p.Elem())
	}
	n, _ := t.(*types.Named)
	return n
}

// ownerOf returns the type that a method belongs to, or nil.
func ownerOf(o types.Object) types.Type {
	if f, ok := o.(*types.Func); ok {
		if r := f.Signature().Recv(); r != nil {
			return r.Type()
		}
	}
	return nil
}

// signatureOf is the declaration of an object on one line.
func (in *Interp) signatureOf(o types.Object, owner types.Type) string {
	if owner == nil {
		owner = ownerOf(o)
	}
	if sig, _, ok := in.docOf(o, owner); ok && sig != "" {
		first, _, more := strings.Cut(sig, "\n")
		if more {
			first = strings.TrimSuffix(strings.TrimSpace(first), "{") + "{…}"
		}
		return first
	}
	switch o := o.(type) {
	case *types.Builtin:
		return builtinSignatures[o.Name()]
	case *types.Nil:
		return "nil"
	case *types.TypeName:
		return "type " + o.Name() + " " + typeText(o.Type().Underlying())
	case *types.Const:
		return "const " + o.Name() + " " + typeText(o.Type()) + " = " + o.Val().String()
	case *types.Func:
		return "func " + o.Name() + strings.TrimPrefix(typeText(o.Type()), "func")
	case *types.Var:
		if o.IsField() {
			return "field " + o.Name() + " " + typeText(o.Type())
		}
		return "var " + o.Name() + " " + typeText(o.Type())
	case *types.PkgName:
		return "package " + o.Imported().Path()
	}
	return ""
}

// typeText writes a type as a cell would.
func typeText(t types.Type) string {
	s := types.TypeString(t, func(p *types.Package) string {
		if p.Path() == cellPath {
			return ""
		}
		return p.Name()
	})
	if len(s) > 200 {
		s = s[:strings.LastIndexByte(s[:200], ' ')+1] + "…"
	}
	return s
}

var builtinSignatures = map[string]string{
	"append":  "func append(slice []T, elems ...T) []T",
	"cap":     "func cap(v) int",
	"clear":   "func clear(m)",
	"close":   "func close(c chan<- T)",
	"complex": "func complex(r, i float64) complex128",
	"copy":    "func copy(dst, src []T) int",
	"delete":  "func delete(m map[K]V, key K)",
	"imag":    "func imag(c complex128) float64",
	"len":     "func len(v) int",
	"make":    "func make(T, size ...int) T",
	"max":     "func max(x, y ...T) T",
	"min":     "func min(x, y ...T) T",
	"new":     "func new(T) *T",
	"panic":   "func panic(v any)",
	"print":   "func print(args ...T)",
	"println": "func println(args ...T)",
	"real":    "func real(c complex128) float64",
	"recover": "func recover() any",
}
