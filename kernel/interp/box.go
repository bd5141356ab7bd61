package interp

import (
	"encoding/json"
	"fmt"
	"go/ast"
	"reflect"

	"github.com/cosmos72/gomacro/base/genimport"
	"github.com/cosmos72/gomacro/fast"
	xr "github.com/cosmos72/gomacro/xreflect"
	"github.com/gopherdata/gophernotes/imports"
)

// The engine stores a value of a type that a cell declares as a value of the
// type's structure: its name and methods are gone once it is inside an
// interface{}. A box carries them along. Its first field is what the engine
// looks for in its own stand-ins, so that a type assertion opens the box.

// boxed is what the engine takes boxes for.
type boxed interface{ Unbox() any }

// loadBoxes tells the engine that boxes are stand-ins, for it to open.
func (in *Interp) loadBoxes() {
	t := reflect.TypeFor[boxed]()
	in.ir.Comp.NewImport(&genimport.PackageRef{
		Path: hidden + "box",
		Package: imports.Package{
			Name:  "box",
			Types: map[string]reflect.Type{"Box": t, "TextBox": t, "ErrorBox": t},
			Proxies: map[string]reflect.Type{
				"Box": reflect.TypeFor[box](), "TextBox": reflect.TypeFor[textBox](), "ErrorBox": reflect.TypeFor[errorBox](),
			},
		},
	})
}

// box is a value with its type.
type box struct {
	Object any // an xr.InterfaceHeader
	face   *face
	outer  any // the textBox or errorBox around it, or the box itself
}

func (b *box) value() reflect.Value {
	return b.Object.(xr.InterfaceHeader).Value().ReflectValue()
}

// Format prints the value as fmt would print it in a compiled program.
func (b *box) Format(f fmt.State, verb rune) { b.face.format(f, verb, b.value(), 0, false) }

// MarshalJSON encodes the value under the names its fields have in the cell.
func (b *box) MarshalJSON() ([]byte, error) { return json.Marshal(b.face.forJSON(b.value())) }

// FindMethod finds a method without arguments, for package show.
func (b *box) FindMethod(name string) (func() []any, bool) {
	m, ok := methodOf(b.face.typ, name)
	if !ok || m.Type.NumIn() != 1 || m.Type.NumOut() == 0 {
		return nil, false
	}
	return func() []any {
		var out []any
		for _, r := range b.face.in.callBack(m, b.value()) {
			out = append(out, r.Interface())
		}
		return out
	}, true
}

// textBox is the box of a type with a String method.
type textBox struct {
	Object any
	box    *box
}

func (b *textBox) Format(f fmt.State, verb rune)               { b.box.Format(f, verb) }
func (b *textBox) String() string                              { return b.box.face.text(b.box.value()) }
func (b *textBox) MarshalJSON() ([]byte, error)                { return b.box.MarshalJSON() }
func (b *textBox) FindMethod(name string) (func() []any, bool) { return b.box.FindMethod(name) }

// errorBox is the box of a type with an Error method.
type errorBox struct {
	Object any
	box    *box
}

func (b *errorBox) Format(f fmt.State, verb rune)               { b.box.Format(f, verb) }
func (b *errorBox) Error() string                               { return b.box.face.text(b.box.value()) }
func (b *errorBox) Unwrap() error                               { return b.box.face.unwrap(b.box.value()) }
func (b *errorBox) MarshalJSON() ([]byte, error)                { return b.box.MarshalJSON() }
func (b *errorBox) FindMethod(name string) (func() []any, bool) { return b.box.FindMethod(name) }

// newBox boxes v.
func newBox(v xr.Value, f *face) any {
	h := xr.MakeInterfaceHeader(v, f.typ)
	b := &box{Object: h, face: f}
	switch w := f.inWords(); {
	case w.isError:
		b.outer = &errorBox{h, b}
	case w.text != nil:
		b.outer = &textBox{h, b}
	default:
		b.outer = b
	}
	return b.outer
}

// compileBox compiles the boxing of one value.
func (in *Interp) compileBox(c *fast.Comp, call *ast.CallExpr) *fast.Call {
	return in.compileBoxing(c, call.Args[0], c.TypeOfInterface(), func(x any) any { return x })
}

// anyValue is x as a value of type interface{}.
func anyValue(x any) reflect.Value {
	v := reflect.New(reflect.TypeFor[any]()).Elem()
	if x != nil {
		v.Set(reflect.ValueOf(x))
	}
	return v
}

// opened takes the value and type out of one of the engine's stand-ins.
func (in *Interp) opened(x any) (xr.Value, xr.Type, bool) {
	v := reflect.ValueOf(x)
	if v.Kind() != reflect.Pointer || v.IsNil() || v.Elem().Kind() != reflect.Struct || v.Elem().NumField() == 0 {
		return xr.Value{}, nil, false
	}
	f := v.Elem().Field(0)
	if v.Elem().Type().Field(0).Name != "Object" || !f.CanInterface() {
		return xr.Value{}, nil, false
	}
	h, ok := f.Interface().(xr.InterfaceHeader)
	if !ok {
		return xr.Value{}, nil, false
	}
	return h.Value(), h.Type(), true
}
