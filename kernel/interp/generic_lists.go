package interp

import (
	"reflect"
	"sort"
)

// compare orders two values of one ordered type; a NaN comes before all else.
func compare(a, b reflect.Value) int {
	less := func(x, y reflect.Value) bool {
		switch {
		case x.CanInt():
			return x.Int() < y.Int()
		case x.CanUint():
			return x.Uint() < y.Uint()
		case x.CanFloat():
			f, g := x.Float(), y.Float()
			return f < g || f != f && g == g
		}
		return x.String() < y.String()
	}
	switch {
	case less(a, b):
		return -1
	case less(b, a):
		return 1
	}
	return 0
}

// by is the order of a comparing function.
func by(f reflect.Value) func(a, b reflect.Value) int {
	return func(a, b reflect.Value) int { return int(f.Call([]reflect.Value{a, b})[0].Int()) }
}

func sortList(s reflect.Value, cmp func(a, b reflect.Value) int) {
	switch x := s.Interface().(type) {
	case []float64:
		if reflect.ValueOf(cmp).Pointer() == reflect.ValueOf(compare).Pointer() {
			sort.Float64s(x)
			return
		}
	case []int:
		if reflect.ValueOf(cmp).Pointer() == reflect.ValueOf(compare).Pointer() {
			sort.Ints(x)
			return
		}
	}
	tmp := clone(s) // the elements must not move while they are compared
	order := make([]int, s.Len())
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, j int) bool { return cmp(tmp.Index(order[i]), tmp.Index(order[j])) < 0 })
	for i, j := range order {
		s.Index(i).Set(tmp.Index(j))
	}
}

func best(name string, s reflect.Value, sign int, cmp func(a, b reflect.Value) int) []reflect.Value {
	if s.Len() == 0 {
		panic(name + ": empty list")
	}
	m := s.Index(0)
	for i := range s.Len() {
		x := s.Index(i)
		if x.CanFloat() && x.Float() != x.Float() { // a NaN beats all
			return []reflect.Value{x}
		}
		if sign*cmp(x, m) > 0 {
			m = x
		}
	}
	return []reflect.Value{m}
}

func indexOf(s, v reflect.Value) int {
	for i := range s.Len() {
		if s.Index(i).Equal(v) {
			return i
		}
	}
	return -1
}

func indexFunc(s, f reflect.Value) int {
	for i := range s.Len() {
		if f.Call([]reflect.Value{s.Index(i)})[0].Bool() {
			return i
		}
	}
	return -1
}

func clone(s reflect.Value) reflect.Value {
	if s.IsNil() {
		return s
	}
	out := reflect.MakeSlice(s.Type(), s.Len(), s.Len())
	reflect.Copy(out, s)
	return out
}

func plainList(s reflect.Value) reflect.Value { return s.Convert(reflect.SliceOf(s.Type().Elem())) }

func listOf(elem reflect.Type, vals []reflect.Value) reflect.Value {
	out := reflect.MakeSlice(reflect.SliceOf(elem), 0, len(vals))
	return reflect.Append(out, vals...)
}

func copyMap(dst, src reflect.Value) {
	for _, k := range src.MapKeys() {
		dst.SetMapIndex(k, src.MapIndex(k))
	}
}
