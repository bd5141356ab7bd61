package interp

import (
	_ "embed"
	"go/ast"
	"go/types"
	"reflect"
	"sort"
	"strings"

	"github.com/cosmos72/gomacro/fast"
	xr "github.com/cosmos72/gomacro/xreflect"
	"github.com/gopherdata/gophernotes/imports"

	"rotorhum/kernel/show"
)

// Generic functions cannot be linked into the engine. Those of the packages
// slices, maps and cmp that cells are likely to call are made here, by
// reflection; generic.txt declares them for the checker. An iter.Seq is a
// slice behind the scenes.

//go:embed generic.txt
var genericSource string

const callGeneric = hidden + "generic"

func init() {
	for _, path := range []string{"iter", "cmp", "maps", "slices"} {
		if _, ok := imports.Packages[path]; !ok {
			imports.Packages[path] = imports.Package{Name: path}
		}
	}
}

// declareGeneric tells the checker of the generic packages, when the first of
// them is imported.
func (in *Interp) declareGeneric(path string) error {
	switch path {
	case "iter", "cmp", "maps", "slices":
	default:
		return nil
	}
	if in.view.IsGeneric(path) {
		return nil
	}
	for _, part := range strings.Split(genericSource, "-- ")[1:] {
		path, src, _ := strings.Cut(part, "\n")
		if err := in.view.AddGeneric(path, src); err != nil {
			return err
		}
	}
	return nil
}

// generic is one function: what it gives for arguments of given types, and how.
type generic struct {
	// results lists the types of the results: the letters stand for
	// S the first argument's type, E its element type, K its key type,
	// L a slice of E, k a slice of K, i int, b bool.
	results string
	// args says to which type constants among the arguments go, in the same
	// letters; "" is the element type for all.
	args string
	call func(a []reflect.Value) []reflect.Value
}

func one(v any) []reflect.Value { return []reflect.Value{reflect.ValueOf(v)} }

var generics = map[string]generic{
	"cmp.Compare": {"i", "S", func(a []reflect.Value) []reflect.Value { return one(compare(a[0], a[1])) }},
	"cmp.Less":    {"b", "S", func(a []reflect.Value) []reflect.Value { return one(compare(a[0], a[1]) < 0) }},

	"maps.Clone": {"S", "", func(a []reflect.Value) []reflect.Value {
		if a[0].IsNil() {
			return a
		}
		m := reflect.MakeMap(a[0].Type())
		copyMap(m, a[0])
		return []reflect.Value{m}
	}},
	"maps.Copy": {"", "", func(a []reflect.Value) []reflect.Value { copyMap(a[0], a[1]); return nil }},
	"maps.Keys": {"k", "", func(a []reflect.Value) []reflect.Value {
		return []reflect.Value{listOf(a[0].Type().Key(), show.SortedKeys(a[0]))}
	}},
	"maps.Values": {"L", "", func(a []reflect.Value) []reflect.Value {
		var vals []reflect.Value
		for _, k := range show.SortedKeys(a[0]) {
			vals = append(vals, a[0].MapIndex(k))
		}
		return []reflect.Value{listOf(a[0].Type().Elem(), vals)}
	}},
	"maps.Equal": {"b", "", func(a []reflect.Value) []reflect.Value {
		if a[0].Len() != a[1].Len() {
			return one(false)
		}
		for _, k := range a[0].MapKeys() {
			if v := a[1].MapIndex(k); !v.IsValid() || !v.Equal(a[0].MapIndex(k)) {
				return one(false)
			}
		}
		return one(true)
	}},

	"slices.BinarySearch": {"ib", "SE", func(a []reflect.Value) []reflect.Value {
		i := sort.Search(a[0].Len(), func(i int) bool { return compare(a[0].Index(i), a[1]) >= 0 })
		found := i < a[0].Len() && compare(a[0].Index(i), a[1]) == 0
		return []reflect.Value{reflect.ValueOf(i), reflect.ValueOf(found)}
	}},
	"slices.Clone":   {"S", "", func(a []reflect.Value) []reflect.Value { return []reflect.Value{clone(a[0])} }},
	"slices.Collect": {"L", "", func(a []reflect.Value) []reflect.Value { return []reflect.Value{clone(a[0])} }},
	"slices.Values":  {"L", "", func(a []reflect.Value) []reflect.Value { return []reflect.Value{plainList(clone(a[0]))} }},
	"slices.Compact": {"S", "", func(a []reflect.Value) []reflect.Value {
		n := 0
		for i := range a[0].Len() {
			if i == 0 || !a[0].Index(i).Equal(a[0].Index(n-1)) {
				a[0].Index(n).Set(a[0].Index(i))
				n++
			}
		}
		return []reflect.Value{a[0].Slice(0, n)}
	}},
	"slices.Concat": {"S", "", func(a []reflect.Value) []reflect.Value {
		out := reflect.Zero(a[0].Type())
		for _, s := range a {
			out = reflect.AppendSlice(out, s)
		}
		return []reflect.Value{out}
	}},
	"slices.Contains":     {"b", "SE", func(a []reflect.Value) []reflect.Value { return one(indexOf(a[0], a[1]) >= 0) }},
	"slices.ContainsFunc": {"b", "", func(a []reflect.Value) []reflect.Value { return one(indexFunc(a[0], a[1]) >= 0) }},
	"slices.Delete": {"S", "Sii", func(a []reflect.Value) []reflect.Value {
		i, j := int(a[1].Int()), int(a[2].Int())
		rest := a[0].Slice(j, a[0].Len())
		out := reflect.AppendSlice(a[0].Slice(0, i), rest)
		a[0].Slice(out.Len(), a[0].Len()).Clear()
		return []reflect.Value{out}
	}},
	"slices.Equal": {"b", "", func(a []reflect.Value) []reflect.Value {
		if a[0].Len() != a[1].Len() {
			return one(false)
		}
		for i := range a[0].Len() {
			if !a[0].Index(i).Equal(a[1].Index(i)) {
				return one(false)
			}
		}
		return one(true)
	}},
	"slices.Index":     {"i", "SE", func(a []reflect.Value) []reflect.Value { return one(indexOf(a[0], a[1])) }},
	"slices.IndexFunc": {"i", "", func(a []reflect.Value) []reflect.Value { return one(indexFunc(a[0], a[1])) }},
	"slices.Insert": {"S", "SiE", func(a []reflect.Value) []reflect.Value {
		i := int(a[1].Int())
		tail := clone(a[0].Slice(i, a[0].Len()))
		out := reflect.Append(a[0].Slice3(0, i, i), a[2:]...)
		return []reflect.Value{reflect.AppendSlice(out, tail)}
	}},
	"slices.IsSorted": {"b", "", func(a []reflect.Value) []reflect.Value {
		for i := 1; i < a[0].Len(); i++ {
			if compare(a[0].Index(i), a[0].Index(i-1)) < 0 {
				return one(false)
			}
		}
		return one(true)
	}},
	"slices.Max":     {"E", "", func(a []reflect.Value) []reflect.Value { return best("slices.Max", a[0], 1, compare) }},
	"slices.Min":     {"E", "", func(a []reflect.Value) []reflect.Value { return best("slices.Min", a[0], -1, compare) }},
	"slices.MaxFunc": {"E", "", func(a []reflect.Value) []reflect.Value { return best("slices.MaxFunc", a[0], 1, by(a[1])) }},
	"slices.MinFunc": {"E", "", func(a []reflect.Value) []reflect.Value { return best("slices.MinFunc", a[0], -1, by(a[1])) }},
	"slices.Repeat": {"S", "Si", func(a []reflect.Value) []reflect.Value {
		out := reflect.MakeSlice(a[0].Type(), 0, a[0].Len()*int(a[1].Int()))
		for range int(a[1].Int()) {
			out = reflect.AppendSlice(out, a[0])
		}
		return []reflect.Value{out}
	}},
	"slices.Reverse": {"", "", func(a []reflect.Value) []reflect.Value {
		swap := reflect.Swapper(a[0].Interface())
		for i, j := 0, a[0].Len()-1; i < j; i, j = i+1, j-1 {
			swap(i, j)
		}
		return nil
	}},
	"slices.Sort":           {"", "", func(a []reflect.Value) []reflect.Value { sortList(a[0], compare); return nil }},
	"slices.SortFunc":       {"", "", func(a []reflect.Value) []reflect.Value { sortList(a[0], by(a[1])); return nil }},
	"slices.SortStableFunc": {"", "", func(a []reflect.Value) []reflect.Value { sortList(a[0], by(a[1])); return nil }},
	"slices.Sorted": {"L", "", func(a []reflect.Value) []reflect.Value {
		out := clone(a[0])
		sortList(out, compare)
		return []reflect.Value{out}
	}},
}

// genericName returns the name of the generic function that a call names, such
// as "slices.Sort", or "".
func (r *rewriter) genericName(f *types.Func) string {
	if f == nil || f.Pkg() == nil || !r.in.view.IsGeneric(f.Pkg().Path()) {
		return ""
	}
	return f.Pkg().Name() + "." + f.Name()
}

func (in *Interp) compileGeneric(c *fast.Comp, call *ast.CallExpr) *fast.Call {
	hint := in.hints[call].(genericCall)
	g := generics[hint.name]
	args := c.Exprs(call.Args)
	var first xr.Type
	for _, a := range args { // cmp.Less(1, x)
		if !a.Untyped() && a.Type != nil {
			first = a.Type
			break
		}
	}
	if first == nil {
		first = args[0].DefaultType()
	}
	u := c.Universe
	typ := func(letter byte) xr.Type {
		switch letter {
		case 'S':
			return first
		case 'E':
			return first.Elem()
		case 'K':
			return first.Key()
		case 'L':
			return u.SliceOf(first.Elem())
		case 'k':
			return u.SliceOf(first.Key())
		case 'b':
			return u.BasicTypes[reflect.Bool]
		}
		return u.BasicTypes[reflect.Int]
	}
	var in1 []xr.Type
	var rin []reflect.Type
	for i, a := range args {
		if a.Const() {
			letter := byte('S')
			if g.args != "" {
				letter = g.args[min(i, len(g.args)-1)]
			}
			if a.Type == nil || a.Untyped() || letter == 'S' {
				a.ConstTo(typ(letter))
			}
		}
		in1, rin = append(in1, a.Type), append(rin, a.Type.ReflectType())
	}
	var out []xr.Type = []xr.Type{}
	var rout []reflect.Type
	for i := range len(g.results) {
		t := typ(g.results[i])
		out, rout = append(out, t), append(rout, t.ReflectType())
	}
	f := g.call
	if hint.spread { // the last argument is a list of the rest
		plain := f
		f = func(a []reflect.Value) []reflect.Value {
			n := len(a) - 1
			for i := range a[n].Len() {
				a = append(a, a[n].Index(i))
			}
			return plain(append(a[:n:n], a[n+1:]...))
		}
	}
	fn := reflect.MakeFunc(reflect.FuncOf(rin, rout, false), func(a []reflect.Value) []reflect.Value {
		res := f(a)
		for i := range res {
			if res[i].Type() != rout[i] {
				res[i] = res[i].Convert(rout[i])
			}
		}
		return res
	})
	return &fast.Call{Fun: constantFunc(u.FuncOf(in1, out, false), fn.Interface()), Args: args, OutTypes: out}
}

// genericCall is what a hidden call of a generic function needs to know.
type genericCall struct {
	name   string
	spread bool // it ends in a list and three dots
}

// genericCall rewrites a call of a generic function.
func (r *rewriter) genericCall(name string, n *ast.CallExpr) (*ast.CallExpr, bool) {
	if _, ok := generics[name]; !ok {
		return nil, false
	}
	call := callAt(n.Pos(), callGeneric, n.Args...)
	r.in.hints[call] = genericCall{name, n.Ellipsis.IsValid()}
	return call, true
}
