package interp

import (
	"fmt"
	"io"
	"reflect"
	"strings"
	"sync"
	"sync/atomic"

	xr "github.com/cosmos72/gomacro/xreflect"

	"rotorhum/kernel/show"
)

// face is how values of one type look: what fmt would know about the type if
// it were compiled.
type face struct {
	in    *Interp
	typ   xr.Type
	name  string                  // for %#v and %T
	own   bool                    // it is, or contains, a type that a cell declares
	words atomic.Pointer[inWords] // nil for a compiled type

	elem, key *face
	fields    []faceField
}

// inWords are the methods by which values say what they are. A later cell may add
// them to a type.
type inWords struct {
	isError bool
	text    *xr.Method // String or Error, nil if the type has neither
	unwrap  *xr.Method
	encode  *xr.Method // MarshalJSON or MarshalText
}

var noWords inWords

// inWords returns the methods that the type has now.
func (f *face) inWords() *inWords {
	if w := f.words.Load(); w != nil {
		return w
	}
	return &noWords
}

// look looks for the methods that the type has now.
func (f *face) look() {
	w := &inWords{}
	if m, ok := methodOf(f.typ, "Error"); ok && isTextFunc(m) {
		w.text, w.isError = m, true
		if u, ok := methodOf(f.typ, "Unwrap"); ok {
			w.unwrap = u
		}
	} else if m, ok := methodOf(f.typ, "String"); ok && isTextFunc(m) {
		w.text = m
	}
	for _, name := range []string{"MarshalText", "MarshalJSON"} { // the last counts
		if m, ok := methodOf(f.typ, name); ok && isEncoder(m) {
			w.encode = m
		}
	}
	f.words.Store(w)
}

// lookAgain looks at all types after a cell has declared a method.
func (fs *faces) lookAgain() {
	fs.mu.Lock()
	defer fs.mu.Unlock()
	for _, f := range fs.m {
		if f.words.Load() != nil {
			f.look()
		}
	}
}

type faceField struct {
	name     string
	exported bool
	embedded bool
	tag      reflect.StructTag
	face     *face
}

// faceOf returns the face of a type.
func (in *Interp) faceOf(t xr.Type) *face { return in.faces.of(t) }

// faces holds the faces made so far.
type faces struct {
	in *Interp
	mu sync.Mutex
	m  map[xr.Key]*face
}

func (fs *faces) of(t xr.Type) *face {
	fs.mu.Lock()
	defer fs.mu.Unlock()
	return fs.get(t)
}

func (fs *faces) get(t xr.Type) *face {
	k := xr.MakeKey(t)
	if f := fs.m[k]; f != nil {
		return f
	}
	f := &face{in: fs.in, typ: t, name: strings.ReplaceAll(t.String(), "interface {}", "any")}
	fs.m[k] = f
	if t.Named() && t.PkgPath() != cellPath {
		return f // compiled: Go knows how it looks
	}
	f.own = t.Named()
	f.look()
	switch t.Kind() {
	case reflect.Slice, reflect.Array, reflect.Pointer:
		f.elem = fs.get(t.Elem())
		f.own = f.own || f.elem.own
	case reflect.Map:
		f.elem, f.key = fs.get(t.Elem()), fs.get(t.Key())
		f.own = f.own || f.elem.own || f.key.own
	case reflect.Struct:
		for i := range t.NumField() {
			sf := t.Field(i)
			fd := faceField{name: sf.Name, exported: isUpper(sf.Name), embedded: sf.Anonymous, tag: sf.Tag, face: fs.get(sf.Type)}
			f.fields = append(f.fields, fd)
			f.own = f.own || !fd.exported || fd.face.own
		}
	}
	return f
}

// cellPath is the package of the types that cells declare.
const cellPath = "main"

func isUpper(name string) bool {
	r := []rune(name)[0]
	return strings.ToUpper(string(r)) == string(r) && strings.ToLower(string(r)) != string(r)
}

// methodOf finds a method in the method set of t.
func methodOf(t xr.Type, name string) (*xr.Method, bool) {
	base, byPtr := t, false
	if t.Kind() == reflect.Pointer {
		base, byPtr = t.Elem(), true
		if base.Kind() == reflect.Pointer || base.Kind() == reflect.Interface {
			return nil, false
		}
	}
	if t.Kind() == reflect.Interface {
		return nil, false
	}
	m, n := base.MethodByName(name, cellPath)
	if n != 1 || m.Type == nil || m.Type.NumIn() == 0 {
		return nil, false
	}
	if m.Type.In(0).Kind() == reflect.Pointer && !byPtr && len(m.FieldIndex) == 0 {
		return nil, false
	}
	return &m, true
}

func isTextFunc(m *xr.Method) bool {
	t := m.Type
	return t.NumIn() == 1 && t.NumOut() == 1 && t.Out(0).Kind() == reflect.String
}

func isEncoder(m *xr.Method) bool {
	t := m.Type
	return t.NumIn() == 1 && t.NumOut() == 2 && t.Out(0).ReflectType() == reflect.TypeFor[[]byte]() && t.Out(1).ReflectType() == reflect.TypeFor[error]()
}

// callMethod calls a method without arguments on v.
func callMethod(m *xr.Method, v reflect.Value) []reflect.Value {
	for _, i := range m.FieldIndex {
		if v.Kind() == reflect.Pointer {
			v = v.Elem()
		}
		v = v.Field(i)
	}
	fn := (*m.Funs)[m.Index]
	want := fn.Type().In(0)
	switch {
	case v.Type() == want:
	case want.Kind() == reflect.Pointer && v.Type() == want.Elem():
		if !v.CanAddr() {
			c := reflect.New(v.Type()).Elem()
			c.Set(v)
			v = c
		}
		v = v.Addr()
	case v.Kind() == reflect.Pointer && v.Type().Elem() == want:
		v = v.Elem()
	default:
		v = v.Convert(want)
	}
	return fn.Call([]reflect.Value{v})
}

// text calls the String or Error method. As in fmt, a panic of it becomes the
// text.
func (f *face) text(v reflect.Value) (s string) {
	m := f.inWords().text
	isNil := v.Kind() == reflect.Pointer && v.IsNil()
	if isNil && m.Type.In(0).Kind() != reflect.Pointer {
		return "<nil>"
	}
	defer func() {
		if r := recover(); r != nil {
			if s = fmt.Sprintf("%%!v(PANIC=%s method: %v)", m.Name, r); isNil {
				s = "<nil>"
			}
		}
	}()
	return f.in.callBack(m, v)[0].String()
}

func (f *face) unwrap(v reflect.Value) error {
	m := f.inWords().unwrap
	if m == nil || m.Type.NumIn() != 1 || m.Type.NumOut() != 1 {
		return nil
	}
	err, _ := f.in.callBack(m, v)[0].Interface().(error)
	return err
}

// format prints v for one verb of fmt. raw is set below an unexported field,
// where fmt calls no methods.
func (f *face) format(s fmt.State, verb rune, v reflect.Value, depth int, raw bool) {
	goSyntax := verb == 'v' && s.Flag('#')
	if f.inWords().text != nil && !raw && !goSyntax && strings.ContainsRune("vsxXq", verb) {
		if verb == 'v' {
			verb = 's'
		}
		fmt.Fprintf(s, fmt.FormatString(noPlus{s}, verb), f.text(v))
		return
	}
	if goSyntax {
		fmt.Fprint(s, f.goString(v, depth))
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		io.WriteString(s, "{")
		for i, fd := range f.fields {
			if i > 0 {
				io.WriteString(s, " ")
			}
			if s.Flag('+') && verb == 'v' {
				io.WriteString(s, fd.name+":")
			}
			fd.face.format(s, verb, v.Field(i), depth+1, raw || !fd.exported)
		}
		io.WriteString(s, "}")
	case reflect.Slice, reflect.Array:
		if v.Type().Elem().Kind() == reflect.Uint8 && strings.ContainsRune("sqxX", verb) {
			leaf(s, verb, plain(v))
			return
		}
		io.WriteString(s, "[")
		for i := range v.Len() {
			if i > 0 {
				io.WriteString(s, " ")
			}
			f.elem.format(s, verb, v.Index(i), depth+1, raw)
		}
		io.WriteString(s, "]")
	case reflect.Map:
		io.WriteString(s, "map[")
		for i, k := range show.SortedKeys(v) {
			if i > 0 {
				io.WriteString(s, " ")
			}
			f.key.format(s, verb, k, depth+1, raw)
			io.WriteString(s, ":")
			f.elem.format(s, verb, v.MapIndex(k), depth+1, raw)
		}
		io.WriteString(s, "]")
	case reflect.Pointer:
		if depth == 0 && !v.IsNil() {
			switch v.Elem().Kind() {
			case reflect.Struct, reflect.Slice, reflect.Array, reflect.Map:
				io.WriteString(s, "&")
				f.elem.format(s, verb, v.Elem(), depth+1, raw)
				return
			}
		}
		leaf(s, verb, pointer(v))
	case reflect.Interface:
		if v.IsNil() {
			io.WriteString(s, "<nil>")
			return
		}
		if depth > 0 && v.Elem().Kind() == reflect.Pointer && v.Elem().Type().Elem().Kind() == reflect.Struct {
			if _, isFormatter := v.Elem().Interface().(fmt.Formatter); !isFormatter && f.typ.NumMethod() == 0 {
				leaf(s, verb, pointer(v.Elem()))
				return
			}
		}
		leaf(s, verb, v.Elem().Interface())
	default:
		leaf(s, verb, plain(v))
	}
}

// noPlus hides the flags that make fmt print a string unlike %s.
type noPlus struct{ fmt.State }

func (s noPlus) Flag(c int) bool { return c != '+' && s.State.Flag(c) }

func leaf(s fmt.State, verb rune, x any) { fmt.Fprintf(s, fmt.FormatString(s, verb), x) }

// pointer prints as fmt prints a pointer inside something else.
func pointer(v reflect.Value) any {
	if v.IsNil() {
		return nil
	}
	return v.UnsafePointer()
}

// plain is v as a value without methods.
func plain(v reflect.Value) any {
	if v.Kind() == reflect.Func || v.Kind() == reflect.Chan {
		return pointer(v)
	}
	if v.CanInterface() {
		return v.Interface()
	}
	return v
}
