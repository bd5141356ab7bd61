package main

import (
	"bytes"
	"fmt"
	"go/constant"
	"go/types"
	"sort"
	"strings"

	"github.com/gopherdata/gophernotes/imports"
	"golang.org/x/tools/go/packages"
)

// table collects the symbols of one package.
type table struct {
	pkg  *packages.Package
	have imports.Package // what the interpreter's own tables hold
	own  bool            // they hold nothing

	binds, types, proxies, untyped, wrappers, decls bytes.Buffer

	names map[string]string // the names under which proxies see other packages
}

// symbolsOf returns the Go file that registers what is missing of p, or nil if
// nothing is.
func symbolsOf(p *packages.Package) []byte {
	t := &table{pkg: p, names: map[string]string{}}
	t.have, t.own = imports.Packages[p.PkgPath]
	t.own = !t.own
	scope := p.Types.Scope()
	for _, name := range scope.Names() {
		if o := scope.Lookup(name); o.Exported() {
			t.add(o)
		}
	}
	if t.binds.Len() == 0 && t.types.Len() == 0 {
		return nil
	}
	return t.file()
}

// known reports whether the interpreter's own tables have the name.
func (t *table) known(name string) bool {
	if _, ok := t.have.Binds[name]; ok {
		return true
	}
	_, ok := t.have.Types[name]
	return ok
}

func (t *table) add(o types.Object) {
	name := o.Name()
	if t.known(name) {
		return
	}
	switch o := o.(type) {
	case *types.Const:
		t.addConst(o)
	case *types.Var:
		fmt.Fprintf(&t.binds, "%q: reflect.ValueOf(&p.%s).Elem(),\n", name, name)
	case *types.Func:
		if o.Signature().TypeParams().Len() == 0 {
			fmt.Fprintf(&t.binds, "%q: reflect.ValueOf(p.%s),\n", name, name)
		}
	case *types.TypeName:
		t.addType(o)
	}
}

func (t *table) addConst(o *types.Const) {
	name, value := o.Name(), "p."+o.Name()
	if b, ok := o.Type().(*types.Basic); ok && b.Info()&types.IsUntyped != 0 {
		fmt.Fprintf(&t.untyped, "%q: %q,\n", name, literal(b, o.Val()))
		if b.Kind() == types.UntypedInt {
			if _, exact := constant.Int64Val(o.Val()); !exact {
				value = "uint64(" + value + ")"
			}
		}
	}
	fmt.Fprintf(&t.binds, "%q: reflect.ValueOf(%s),\n", name, value)
}

// literal is an untyped constant as the interpreter reads it.
func literal(b *types.Basic, v constant.Value) string {
	switch b.Kind() {
	case types.UntypedBool:
		return "bool:" + v.String()
	case types.UntypedInt:
		return "int:" + v.ExactString()
	case types.UntypedRune:
		return "rune:" + v.ExactString()
	case types.UntypedString:
		return "string:" + constant.StringVal(v)
	}
	return "float:" + v.ExactString()
}

func (t *table) addType(o *types.TypeName) {
	name := o.Name()
	if n, ok := o.Type().(*types.Named); ok && n.TypeParams().Len() > 0 {
		return
	}
	if a, ok := o.Type().(*types.Alias); ok && a.TypeParams().Len() > 0 {
		return
	}
	iface, isInterface := o.Type().Underlying().(*types.Interface)
	if isInterface && !iface.IsMethodSet() {
		return // a constraint
	}
	fmt.Fprintf(&t.types, "%q: reflect.TypeFor[p.%s](),\n", name, name)
	if o.IsAlias() {
		return
	}
	if isInterface {
		t.addProxy(name, iface)
	} else if w := promoted(o.Type()); len(w) > 0 {
		fmt.Fprintf(&t.wrappers, "%q: %s,\n", name, strings.TrimPrefix(fmt.Sprintf("%#v", w), "[]string"))
	}
}

// promoted lists the methods that a type has from its embedded fields.
func promoted(t types.Type) []string {
	named, ok := t.(*types.Named)
	if !ok {
		return nil
	}
	own := map[string]bool{}
	for m := range named.Methods() {
		own[m.Name()] = true
	}
	var out []string
	set := types.NewMethodSet(types.NewPointer(t))
	for i := range set.Len() {
		if m := set.At(i).Obj(); m.Exported() && !own[m.Name()] {
			out = append(out, m.Name())
		}
	}
	return out
}

// addProxy writes the struct with which a type declared in a cell implements
// the interface. An interface with unexported methods cannot have one.
func (t *table) addProxy(name string, iface *types.Interface) {
	var fields, methods bytes.Buffer
	proxy := "proxy_" + identifier(t.pkg.PkgPath) + "_" + name
	for m := range iface.Methods() {
		if !m.Exported() {
			return
		}
		sig := m.Signature()
		params, args := []string{}, []string{}
		for i := range sig.Params().Len() {
			typ, arg := t.typeString(sig.Params().At(i).Type()), fmt.Sprintf("a%d", i)
			if sig.Variadic() && i == sig.Params().Len()-1 {
				typ = "..." + strings.TrimPrefix(typ, "[]")
				args = append(args, arg+"...")
			} else {
				args = append(args, arg)
			}
			params = append(params, arg+" "+typ)
		}
		var results []string
		for r := range sig.Results().Variables() {
			results = append(results, t.typeString(r.Type()))
		}
		ret, back := "("+strings.Join(results, ", ")+")", ""
		if len(results) > 0 {
			back = "return "
		}
		fmt.Fprintf(&fields, "%s_ func(%s) %s\n", m.Name(), strings.Join(append([]string{"_ any"}, params...), ", "), ret)
		fmt.Fprintf(&methods, "func (x *%s) %s(%s) %s { %sx.%s_(%s) }\n", proxy, m.Name(), strings.Join(params, ", "), ret, back,
			m.Name(), strings.Join(append([]string{"x.Object"}, args...), ", "))
	}
	if methods.Len() == 0 {
		return
	}
	fmt.Fprintf(&t.decls, "type %s struct {\nObject any\n%s}\n\n%s\n", proxy, fields.String(), methods.String())
	fmt.Fprintf(&t.proxies, "%q: reflect.TypeFor[%s](),\n", name, proxy)
}

// typeString writes a type as the generated file names it.
func (t *table) typeString(typ types.Type) string {
	return types.TypeString(typ, func(p *types.Package) string {
		if p == t.pkg.Types {
			return "p"
		}
		name := "q" + identifier(p.Path())
		t.names[p.Path()] = name
		return name
	})
}

func identifier(path string) string {
	return strings.NewReplacer("/", "_", ".", "_", "-", "_").Replace(path)
}

// file puts the Go file together.
func (t *table) file() []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "// %s\n\npackage bindings\n\nimport (\n\"reflect\"\n\n\"github.com/gopherdata/gophernotes/imports\"\n\np %q\n", header, t.pkg.PkgPath)
	var others []string
	for path := range t.names {
		others = append(others, path)
	}
	sort.Strings(others)
	for _, path := range others {
		if strings.Contains(t.decls.String(), t.names[path]+".") {
			fmt.Fprintf(&b, "%s %q\n", t.names[path], path)
		}
	}
	fmt.Fprintf(&b, ")\n\n%sfunc init() {\nregister(%q, imports.Package{\nName: %q,\n", t.decls.String(), t.pkg.PkgPath, t.pkg.Name)
	section := func(field, typ string, body *bytes.Buffer) {
		if body.Len() > 0 {
			fmt.Fprintf(&b, "%s: map[string]%s{\n%s},\n", field, typ, body.String())
		}
	}
	section("Binds", "reflect.Value", &t.binds)
	section("Types", "reflect.Type", &t.types)
	section("Proxies", "reflect.Type", &t.proxies)
	section("Untypeds", "string", &t.untyped)
	section("Wrappers", "[]string", &t.wrappers)
	b.WriteString("})\n}\n")
	return b.Bytes()
}
