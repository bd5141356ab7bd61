package interp

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"

	"rotorhum/kernel/show"
)

// goString is v in Go syntax, as %#v has it.
func (f *face) goString(v reflect.Value, depth int) string {
	var parts []string
	switch v.Kind() {
	case reflect.Struct:
		for i, fd := range f.fields {
			parts = append(parts, fd.name+":"+fd.face.goString(v.Field(i), depth+1))
		}
		return f.name + "{" + strings.Join(parts, ", ") + "}"
	case reflect.Slice, reflect.Array:
		if v.Kind() == reflect.Slice && v.IsNil() {
			return f.name + "(nil)"
		}
		for i := range v.Len() {
			parts = append(parts, f.elem.goString(v.Index(i), depth+1))
		}
		return f.name + "{" + strings.Join(parts, ", ") + "}"
	case reflect.Map:
		for _, k := range show.SortedKeys(v) {
			parts = append(parts, f.key.goString(k, depth+1)+":"+f.elem.goString(v.MapIndex(k), depth+1))
		}
		return f.name + "{" + strings.Join(parts, ", ") + "}"
	case reflect.Pointer:
		if depth == 0 && !v.IsNil() && v.Elem().Kind() == reflect.Struct {
			return "&" + f.elem.goString(v.Elem(), depth+1)
		}
		return fmt.Sprintf("(%s)(%v)", f.name, pointer(v))
	}
	return fmt.Sprintf("%#v", plain(v))
}

// encoded is what a type's own method made of a value.
type encoded struct {
	isText bool
	data   []byte
	err    error
}

func (e encoded) MarshalJSON() ([]byte, error) {
	if e.err == nil && e.isText {
		return json.Marshal(string(e.data))
	}
	return e.data, e.err
}

// forJSON turns v into something that encoding/json encodes as it would encode
// v: a struct with the field names of the cell.
func (f *face) forJSON(v reflect.Value) any {
	if m := f.inWords().encode; m != nil && !(v.Kind() == reflect.Pointer && v.IsNil()) {
		out := f.in.callBack(m, v)
		data, err := out[0].Bytes(), error(nil)
		if !out[1].IsNil() {
			err = out[1].Interface().(error)
		}
		return encoded{m.Name == "MarshalText", data, err}
	}
	switch v.Kind() {
	case reflect.Struct:
		var fields []reflect.StructField
		var values []reflect.Value
		for i, fd := range f.fields {
			if !fd.exported {
				continue
			}
			x := reflect.ValueOf(fd.face.forJSON(v.Field(i)))
			t := reflect.TypeFor[any]()
			if x.IsValid() {
				t = x.Type()
			} else {
				x = reflect.Zero(t)
			}
			fields = append(fields, reflect.StructField{Name: fd.name, Type: t, Tag: fd.tag})
			values = append(values, x)
		}
		s := reflect.New(reflect.StructOf(fields)).Elem()
		for i, x := range values {
			s.Field(i).Set(x)
		}
		return s.Interface()
	case reflect.Slice, reflect.Array:
		if v.Kind() == reflect.Slice && (v.IsNil() || v.Type().Elem().Kind() == reflect.Uint8) {
			return plain(v)
		}
		out := make([]any, v.Len())
		for i := range out {
			out[i] = f.elem.forJSON(v.Index(i))
		}
		return out
	case reflect.Map:
		if v.IsNil() {
			return plain(v)
		}
		out := reflect.MakeMap(reflect.MapOf(v.Type().Key(), reflect.TypeFor[any]()))
		for _, k := range v.MapKeys() {
			x := reflect.New(reflect.TypeFor[any]()).Elem()
			if y := f.elem.forJSON(v.MapIndex(k)); y != nil {
				x.Set(reflect.ValueOf(y))
			}
			out.SetMapIndex(k, x)
		}
		return out.Interface()
	case reflect.Pointer:
		if v.IsNil() {
			return nil
		}
		return f.elem.forJSON(v.Elem())
	}
	return plain(v)
}
