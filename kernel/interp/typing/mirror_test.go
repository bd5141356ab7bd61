package typing

import (
	"fmt"
	"go/token"
	"go/types"
	"os/exec"
	"sort"
	"strings"
	"testing"

	"github.com/gopherdata/gophernotes/imports"
	"golang.org/x/tools/go/packages"

	_ "rotorhum/kernel/bindings"
)

// The mirror knows packages by reflection only. What it shows of each exported
// name must be what the compiler knows of it from the source.
func TestMirrorAgreesWithTheSource(t *testing.T) {
	if testing.Short() {
		t.Skip("loads packages from source")
	}
	if _, err := exec.LookPath("go"); err != nil {
		t.Skip("no Go toolchain")
	}
	paths := []string{"fmt", "math", "strings", "strconv", "sort", "time", "os", "errors", "bytes", "bufio", "io", "encoding/json",
		"math/rand", "math/cmplx", "regexp", "sync", "image", "image/color", "context",
		"gonum.org/v1/gonum/stat", "gonum.org/v1/gonum/floats", "gonum.org/v1/gonum/mat", "gonum.org/v1/plot", "gonum.org/v1/plot/vg"}
	loaded, err := packages.Load(&packages.Config{Mode: packages.NeedName | packages.NeedTypes | packages.NeedImports | packages.NeedDeps}, paths...)
	if err != nil {
		t.Fatal(err)
	}
	s := New(token.NewFileSet())
	checked := 0
	for _, p := range loaded {
		if len(p.Errors) > 0 {
			t.Fatal(p.Errors)
		}
		for _, name := range s.Members(p.PkgPath) {
			real := p.Types.Scope().Lookup(name)
			got := s.Exported(p.PkgPath, name)
			if real == nil { // gone from Go since the interpreter's tables were made
				continue
			}
			if got == nil {
				t.Errorf("%s.%s is not shown", p.PkgPath, name)
				continue
			}
			if g, w := describe(got), describe(real); g != w {
				t.Errorf("%s.%s\nis shown as %s\nbut is      %s", p.PkgPath, name, g, w)
			}
			checked++
		}
	}
	if checked < 1000 {
		t.Errorf("only %d names were compared", checked)
	}
}

// describe tells everything about an object that a cell can notice.
func describe(o types.Object) string {
	kind := strings.TrimPrefix(fmt.Sprintf("%T ", o), "*types.")
	if c, ok := o.(*types.Const); ok {
		val := c.Val().ExactString()
		if b, ok := c.Type().Underlying().(*types.Basic); ok && b.Info()&types.IsFloat != 0 {
			val = c.Val().String()
		}
		return kind + flat(c.Type()) + " " + val
	}
	tn, ok := o.(*types.TypeName)
	if !ok {
		return kind + flat(o.Type())
	}
	t := types.Unalias(tn.Type())
	out := kind + flat(t)
	n, ok := t.(*types.Named)
	if !ok {
		return out
	}
	if st, ok := n.Underlying().(*types.Struct); ok {
		for f := range st.Fields() {
			if f.Exported() {
				out += fmt.Sprintf("\n  field %s %s %v", f.Name(), flat(f.Type()), f.Embedded())
			}
		}
	} else {
		out += " is " + flat(n.Underlying())
	}
	var methods []string
	set := types.NewMethodSet(types.NewPointer(n))
	if types.IsInterface(n) {
		set = types.NewMethodSet(n)
	}
	for i := range set.Len() {
		m := set.At(i).Obj()
		if m.Exported() {
			byValue := types.NewMethodSet(n).Lookup(m.Pkg(), m.Name()) != nil
			methods = append(methods, fmt.Sprintf("\n  method %s %s %v", m.Name(), flat(m.Type()), byValue))
		}
	}
	sort.Strings(methods)
	return out + strings.Join(methods, "") + fmt.Sprintf("\n  comparable %v", types.Comparable(n))
}

// flat writes a type without aliases and parameter names.
func flat(t types.Type) string {
	switch t := types.Unalias(t).(type) {
	case *types.Basic:
		switch t.Kind() {
		case types.Uint8:
			return "uint8"
		case types.Int32:
			return "int32"
		case types.UntypedRune:
			return "untyped rune"
		}
		return t.Name()
	case *types.Named:
		if t.Obj().Pkg() == nil {
			return t.Obj().Name()
		}
		name := t.Obj().Name()
		if t.TypeArgs().Len() > 0 {
			name += "[…]"
		} else if i := strings.IndexByte(name, '['); i > 0 {
			name = name[:i] + "[…]"
		}
		return t.Obj().Pkg().Path() + "." + name
	case *types.Pointer:
		return "*" + flat(t.Elem())
	case *types.Slice:
		return "[]" + flat(t.Elem())
	case *types.Array:
		return fmt.Sprintf("[%d]%s", t.Len(), flat(t.Elem()))
	case *types.Map:
		return "map[" + flat(t.Key()) + "]" + flat(t.Elem())
	case *types.Chan:
		return fmt.Sprintf("chan%d %s", t.Dir(), flat(t.Elem()))
	case *types.Signature:
		tuple := func(tu *types.Tuple) string {
			var parts []string
			for v := range tu.Variables() {
				parts = append(parts, flat(v.Type()))
			}
			return "(" + strings.Join(parts, ", ") + ")"
		}
		return fmt.Sprintf("func%s%s%v", tuple(t.Params()), tuple(t.Results()), t.Variadic())
	case *types.Interface:
		var parts []string
		for m := range t.Methods() {
			parts = append(parts, m.Name()+flat(m.Type()))
		}
		sort.Strings(parts)
		return "interface{" + strings.Join(parts, "; ") + "}"
	case *types.Struct:
		var parts []string
		for f := range t.Fields() {
			if f.Exported() {
				parts = append(parts, f.Name()+" "+flat(f.Type()))
			} else {
				parts = append(parts, "hidden")
			}
		}
		return "struct{" + strings.Join(parts, "; ") + "}"
	}
	return fmt.Sprintf("%T", t)
}

func TestEveryRegisteredPackageCanBeShown(t *testing.T) {
	s := New(token.NewFileSet())
	for path := range imports.Packages {
		for _, name := range s.Members(path) {
			if s.Exported(path, name) == nil {
				t.Errorf("%s.%s is not shown", path, name)
			}
		}
	}
}
