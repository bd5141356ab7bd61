package typing

import (
	"go/constant"
	"go/token"
	"go/types"
	"reflect"
	"strings"

	"github.com/cosmos72/gomacro/base/untyped"
	"github.com/gopherdata/gophernotes/imports"
)

// mirror shows compiled packages to go/types. It knows them only through the
// reflection tables they are registered with, and turns a name into its
// go/types object the first time it is asked for, so that linking a large
// package costs nothing until a cell uses it.
type mirror struct {
	pkgs  map[string]*types.Package
	types map[reflect.Type]types.Type
	// generic holds the packages that a Go file declares.
	generic map[string]bool
	// ifaces holds the packages of the interfaces converted so far.
	ifaces map[string]bool
}

func newMirror() *mirror {
	return &mirror{pkgs: map[string]*types.Package{}, types: map[reflect.Type]types.Type{}, ifaces: map[string]bool{}, generic: map[string]bool{}}
}

var (
	errorType = types.Universe.Lookup("error").Type()
	anyType   = types.Universe.Lookup("any").Type()
	byteType  = types.Universe.Lookup("byte").Type()

	reflectError = reflect.TypeFor[error]()
)

var basicKinds = map[reflect.Kind]types.BasicKind{
	reflect.Bool: types.Bool, reflect.String: types.String,
	reflect.Int: types.Int, reflect.Int8: types.Int8, reflect.Int16: types.Int16,
	reflect.Int32: types.Int32, reflect.Int64: types.Int64,
	reflect.Uint: types.Uint, reflect.Uint8: types.Uint8, reflect.Uint16: types.Uint16,
	reflect.Uint32: types.Uint32, reflect.Uint64: types.Uint64, reflect.Uintptr: types.Uintptr,
	reflect.Float32: types.Float32, reflect.Float64: types.Float64,
	reflect.Complex64: types.Complex64, reflect.Complex128: types.Complex128,
	reflect.UnsafePointer: types.UnsafePointer,
}

// pkg returns the package with the given path; its scope fills as names are
// looked up.
func (m *mirror) pkg(path string) *types.Package {
	p := m.pkgs[path]
	if p == nil {
		name := path[strings.LastIndexByte(path, '/')+1:]
		if reg, ok := imports.Packages[path]; ok {
			name = string(reg.DefaultName(path))
		}
		p = types.NewPackage(path, name)
		p.MarkComplete()
		m.pkgs[path] = p
	}
	return p
}

// lookup returns the object that the registered package path exports as name,
// or nil. Names that are not registered, generic functions among them, do not
// exist.
func (m *mirror) lookup(path, name string) types.Object {
	p := m.pkg(path)
	if o := p.Scope().Lookup(name); o != nil {
		return o
	}
	reg, ok := imports.Packages[path]
	if !ok || m.generic[path] || !token.IsExported(name) {
		return nil
	}
	if t, ok := reg.Types[name]; ok {
		typ := m.typ(t)
		if o := p.Scope().Lookup(name); o != nil {
			return o // converting the type declared it
		}
		p.Scope().Insert(types.NewTypeName(token.NoPos, p, name, typ)) // an alias
		return p.Scope().Lookup(name)
	}
	if v, ok := reg.Binds[name]; ok {
		if o := m.object(p, name, v, reg.Untypeds[name]); o != nil {
			p.Scope().Insert(o)
			return o
		}
	}
	return nil
}

// object turns a registered value into a constant, function or variable.
func (m *mirror) object(p *types.Package, name string, v reflect.Value, lit string) types.Object {
	if lit != "" {
		if kind, val := untyped.Unmarshal(lit); kind != untyped.None {
			return types.NewConst(token.NoPos, p, name, untypedType(kind), val)
		}
	}
	if !v.IsValid() {
		return nil
	}
	typ := m.typ(v.Type())
	if !v.CanAddr() {
		if sig, ok := typ.Underlying().(*types.Signature); ok && v.Kind() == reflect.Func {
			return types.NewFunc(token.NoPos, p, name, sig)
		}
		if val := constantOf(v); val != nil {
			return types.NewConst(token.NoPos, p, name, typ, val)
		}
	}
	return types.NewVar(token.NoPos, p, name, typ)
}

func untypedType(k untyped.Kind) types.Type {
	switch k {
	case untyped.Bool:
		return types.Typ[types.UntypedBool]
	case untyped.Int:
		return types.Typ[types.UntypedInt]
	case untyped.Rune:
		return types.Typ[types.UntypedRune]
	case untyped.Float:
		return types.Typ[types.UntypedFloat]
	case untyped.Complex:
		return types.Typ[types.UntypedComplex]
	}
	return types.Typ[types.UntypedString]
}

func constantOf(v reflect.Value) constant.Value {
	switch {
	case v.Kind() == reflect.Bool:
		return constant.MakeBool(v.Bool())
	case v.Kind() == reflect.String:
		return constant.MakeString(v.String())
	case v.CanInt():
		return constant.MakeInt64(v.Int())
	case v.CanUint():
		return constant.MakeUint64(v.Uint())
	case v.CanFloat():
		return constant.ToFloat(constant.MakeFloat64(v.Float()))
	case v.CanComplex():
		c := v.Complex()
		return constant.BinaryOp(constant.MakeFloat64(real(c)), token.ADD, constant.MakeImag(constant.MakeFloat64(imag(c))))
	}
	return nil
}

// typ converts a type.
func (m *mirror) typ(t reflect.Type) types.Type {
	if got, ok := m.types[t]; ok {
		return got
	}
	switch {
	case t == reflectError:
		return errorType
	case t.Name() != "" && t.PkgPath() != "":
		return m.named(t)
	}
	got := m.structure(t)
	m.types[t] = got
	return got
}

// named converts a defined type with its exported methods.
func (m *mirror) named(t reflect.Type) types.Type {
	p := m.pkg(t.PkgPath())
	tn := types.NewTypeName(token.NoPos, p, t.Name(), nil)
	n := types.NewNamed(tn, nil, nil)
	m.types[t] = n
	if tn.Exported() && isRegistered(t) {
		p.Scope().Insert(tn)
	}
	n.SetUnderlying(m.structure(t))
	if t.Kind() == reflect.Interface {
		m.ifaces[t.PkgPath()] = true
		return n
	}
	byPtr := reflect.PointerTo(t)
	for i := range byPtr.NumMethod() {
		meth := byPtr.Method(i)
		var recv types.Type = types.NewPointer(n)
		if _, ok := t.MethodByName(meth.Name); ok {
			recv = n
		}
		sig := m.signature(meth.Type, types.NewParam(token.NoPos, p, "", recv))
		n.AddMethod(types.NewFunc(token.NoPos, p, meth.Name, sig))
	}
	return n
}

// isRegistered reports whether t is what its package exports under its name,
// and not a type declared inside a function.
func isRegistered(t reflect.Type) bool {
	return imports.Packages[t.PkgPath()].Types[t.Name()] == t
}

// structure converts what a type is made of, whatever its name.
func (m *mirror) structure(t reflect.Type) types.Type {
	if k, ok := basicKinds[t.Kind()]; ok {
		return types.Typ[k]
	}
	switch t.Kind() {
	case reflect.Pointer:
		return types.NewPointer(m.typ(t.Elem()))
	case reflect.Slice:
		return types.NewSlice(m.element(t))
	case reflect.Array:
		return types.NewArray(m.element(t), int64(t.Len()))
	case reflect.Map:
		return types.NewMap(m.typ(t.Key()), m.typ(t.Elem()))
	case reflect.Chan:
		dir := map[reflect.ChanDir]types.ChanDir{
			reflect.BothDir: types.SendRecv, reflect.SendDir: types.SendOnly, reflect.RecvDir: types.RecvOnly,
		}[t.ChanDir()]
		return types.NewChan(dir, m.typ(t.Elem()))
	case reflect.Func:
		return m.signature(t, nil)
	case reflect.Interface:
		return m.iface(t)
	case reflect.Struct:
		return m.structType(t)
	}
	return types.Typ[types.Invalid]
}

// element converts the element type of a slice or array; uint8 is shown as
// byte there.
func (m *mirror) element(t reflect.Type) types.Type {
	if e := t.Elem(); e.Kind() == reflect.Uint8 && e.PkgPath() == "" {
		return byteType
	}
	return m.typ(t.Elem())
}

// signature converts a function type; with a receiver, t is the type of the
// method as a function and its first parameter is dropped.
func (m *mirror) signature(t reflect.Type, recv *types.Var) *types.Signature {
	first := 0
	if recv != nil {
		first = 1
	}
	var in, out []*types.Var
	for i := first; i < t.NumIn(); i++ {
		in = append(in, types.NewParam(token.NoPos, nil, "", m.typ(t.In(i))))
	}
	for i := range t.NumOut() {
		out = append(out, types.NewParam(token.NoPos, nil, "", m.typ(t.Out(i))))
	}
	return types.NewSignatureType(recv, nil, nil, types.NewTuple(in...), types.NewTuple(out...), t.IsVariadic())
}

func (m *mirror) iface(t reflect.Type) types.Type {
	if t.NumMethod() == 0 {
		return anyType.Underlying()
	}
	var methods []*types.Func
	for i := range t.NumMethod() {
		meth := t.Method(i)
		path := meth.PkgPath
		if path == "" {
			path = t.PkgPath()
		}
		methods = append(methods, types.NewFunc(token.NoPos, m.pkg(path), meth.Name, m.signature(meth.Type, nil)))
	}
	return types.NewInterfaceType(methods, nil).Complete()
}

// structType converts a struct. What an unexported field holds cannot matter
// to a cell, except whether it can be compared and what it promotes.
func (m *mirror) structType(t reflect.Type) types.Type {
	var fields []*types.Var
	var tags []string
	for i := range t.NumField() {
		f := t.Field(i)
		path := f.PkgPath
		if path == "" {
			path = t.PkgPath()
		}
		var typ types.Type
		switch {
		case f.IsExported() || f.Anonymous:
			typ = m.typ(f.Type)
		case f.Type.Comparable():
			typ = types.Typ[types.Uintptr]
		default:
			typ = types.NewSignatureType(nil, nil, nil, nil, nil, false)
		}
		fields = append(fields, types.NewField(token.NoPos, m.pkg(path), f.Name, typ, f.Anonymous))
		tags = append(tags, string(f.Tag))
	}
	return types.NewStruct(fields, tags)
}
