package show

import (
	"reflect"
	"sort"
)

// SortedKeys lists the keys of a map in the order in which fmt prints them.
func SortedKeys(v reflect.Value) []reflect.Value {
	keys := v.MapKeys()
	sort.SliceStable(keys, func(i, j int) bool { return lessKey(keys[i], keys[j]) })
	return keys
}

func lessKey(a, b reflect.Value) bool {
	switch {
	case a.Kind() == reflect.String:
		return a.String() < b.String()
	case a.CanInt():
		return a.Int() < b.Int()
	case a.CanUint():
		return a.Uint() < b.Uint()
	case a.CanFloat():
		return a.Float() < b.Float()
	case a.Kind() == reflect.Bool:
		return !a.Bool() && b.Bool()
	case a.Kind() == reflect.Struct:
		for i := range a.NumField() {
			if lessKey(a.Field(i), b.Field(i)) {
				return true
			}
			if lessKey(b.Field(i), a.Field(i)) {
				return false
			}
		}
	case a.Kind() == reflect.Array:
		for i := range a.Len() {
			if lessKey(a.Index(i), b.Index(i)) {
				return true
			}
			if lessKey(b.Index(i), a.Index(i)) {
				return false
			}
		}
	case a.Kind() == reflect.Interface:
		if a.IsNil() || b.IsNil() {
			return a.IsNil() && !b.IsNil()
		}
		if a.Elem().Kind() == b.Elem().Kind() {
			return lessKey(a.Elem(), b.Elem())
		}
		return a.Elem().Kind() < b.Elem().Kind()
	}
	return false
}
