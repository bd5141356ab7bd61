package show

import (
	"fmt"
	"reflect"
	"strings"
	"unicode/utf8"

	"gonum.org/v1/gonum/mat"

	"rotorhum/kernel/cell"
)

// Lists longer than foldAbove show their first and last foldKeep elements.
const (
	foldAbove = 40
	foldKeep  = 6
)

// maxMatrix is the largest number of rows and columns of a matrix that is
// printed whole.
const maxMatrix = 12

// Text is the plain text of a value: what its String or Error method says, or
// what fmt prints with field names, with long lists and long text folded.
func Text(v any) string {
	s, err := textOf(v)
	if err != nil {
		return "(" + err.Error() + ")"
	}
	return s
}

func textOf(v any) (s string, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("printing a value of type %T failed: %v", v, r)
		}
	}()
	return cell.ValidText(foldText(textOfValue(v))), nil
}

func textOfValue(v any) string {
	switch v := v.(type) {
	case nil:
		return "<nil>"
	case string:
		return v
	case fmt.Stringer, error, fmt.Formatter:
		if isNil(v) {
			return "<nil>"
		}
		if m, ok := v.(mat.Matrix); ok {
			return matrixText(m)
		}
		if s, ok := v.(fmt.Formatter); ok {
			return fmt.Sprintf("%+v", s)
		}
		return fmt.Sprint(v)
	case mat.Matrix:
		return matrixText(v)
	}
	r := reflect.ValueOf(v)
	switch r.Kind() {
	case reflect.Func, reflect.Chan:
		if r.IsNil() {
			return fmt.Sprintf("%s(nil)", r.Type())
		}
		return r.Type().String()
	case reflect.Slice, reflect.Array:
		if r.Len() > foldAbove {
			return foldList(r)
		}
	case reflect.Map:
		if r.Len() > foldAbove {
			return foldMap(r)
		}
	case reflect.Pointer:
		if e := r.Elem(); e.IsValid() && e.Kind() == reflect.Struct {
			return "&" + structText(e)
		}
	case reflect.Struct:
		return structText(r)
	}
	return fmt.Sprintf("%+v", v)
}

// foldList is a long list with its shape: "[]float64 of 1000: [0 1 2 … 998 999]".
func foldList(r reflect.Value) string {
	var head, tail []string
	for i := range foldKeep {
		head = append(head, elementText(r.Index(i)))
		tail = append(tail, elementText(r.Index(r.Len()-foldKeep+i)))
	}
	return fmt.Sprintf("%s, shape %s: [%s … %s]", r.Type(), Shape(r.Interface()), strings.Join(head, " "), strings.Join(tail, " "))
}

func elementText(r reflect.Value) string {
	if (r.Kind() == reflect.Slice || r.Kind() == reflect.Array) && r.Len() > foldAbove {
		return foldList(r)
	}
	if !r.CanInterface() {
		return fmt.Sprint(r)
	}
	return fmt.Sprintf("%+v", r.Interface())
}

// foldMap is the first entries of a large map, in the order of their keys.
func foldMap(r reflect.Value) string {
	var parts []string
	for _, k := range SortedKeys(r)[:foldKeep] {
		parts = append(parts, elementText(k)+":"+elementText(r.MapIndex(k)))
	}
	return fmt.Sprintf("%s of %d: map[%s …]", r.Type(), r.Len(), strings.Join(parts, " "))
}

// structText is a struct with the names of its fields; long lists in it are
// folded.
func structText(r reflect.Value) string {
	t := r.Type()
	var parts []string
	for i := range t.NumField() {
		f := r.Field(i)
		text := ""
		switch {
		case (f.Kind() == reflect.Slice || f.Kind() == reflect.Array) && f.Len() > foldAbove && f.CanInterface():
			text = foldList(f)
		case f.CanInterface():
			text = fmt.Sprintf("%+v", f.Interface())
		default:
			text = fmt.Sprintf("%+v", f)
		}
		parts = append(parts, t.Field(i).Name+": "+text)
	}
	name := t.Name()
	if t.PkgPath() != "" && name != "" {
		name = t.String()
	}
	return name + "{" + strings.Join(parts, ", ") + "}"
}

// Shape describes the size of a list, map or matrix, such as "1024" or
// "3 × 2"; it is "" for anything else.
func Shape(v any) string {
	if m, ok := v.(mat.Matrix); ok && !isNil(v) {
		rows, cols := m.Dims()
		return fmt.Sprintf("%d × %d", rows, cols)
	}
	r := reflect.ValueOf(v)
	for r.Kind() == reflect.Pointer && !r.IsNil() {
		r = r.Elem()
	}
	switch r.Kind() {
	case reflect.Map:
		return fmt.Sprint(r.Len())
	case reflect.Slice, reflect.Array:
	default:
		return ""
	}
	dims := []string{fmt.Sprint(r.Len())}
	for r.Len() > 0 {
		n := -1
		for i := range r.Len() {
			e := r.Index(i)
			if e.Kind() != reflect.Slice && e.Kind() != reflect.Array {
				return strings.Join(dims, " × ")
			}
			if n >= 0 && e.Len() != n {
				return strings.Join(append(dims, "various"), " × ")
			}
			n = e.Len()
		}
		dims = append(dims, fmt.Sprint(n))
		r = r.Index(0)
	}
	return strings.Join(dims, " × ")
}

// matrixText prints a matrix, a large one in excerpt.
func matrixText(m mat.Matrix) string {
	rows, cols := m.Dims()
	if rows == 0 || cols == 0 {
		return fmt.Sprintf("%T, empty", m)
	}
	excerpt := 0
	if rows > maxMatrix || cols > maxMatrix {
		excerpt = 4
	}
	return fmt.Sprintf("%T, shape %d × %d\n%.6v", m, rows, cols, mat.Formatted(m, mat.Squeeze(), mat.Excerpt(excerpt)))
}

// longSource and sourceKept are the bytes from which on a source that only
// programs read is long, and those shown of it.
const (
	longSource = 16 << 10
	sourceKept = 1 << 10
)

// beginning is a source as plain text: all of it, or of a long one what it is,
// its size and its first lines.
func beginning(what, source string) string {
	if len(source) <= longSource {
		return source
	}
	n := sourceKept
	for n > 0 && !utf8.RuneStart(source[n]) {
		n--
	}
	if line := strings.LastIndexByte(source[:n], '\n'); line > 0 {
		n = line
	}
	return fmt.Sprintf("%s of %d bytes, which begins\n%s\n…", what, len(source), source[:n])
}

// foldText shortens long text in the middle.
func foldText(s string) string {
	if len(s) <= maxTextLen {
		return s
	}
	half := maxTextLen / 2
	return s[:half] + fmt.Sprintf("\n… %d bytes left out …\n", len(s)-2*half) + s[len(s)-half:]
}
