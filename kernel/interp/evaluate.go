package interp

import (
	"go/ast"
	"go/constant"
	"go/token"
	"reflect"
	"strings"

	"github.com/cosmos72/gomacro/base/untyped"
)

// The part of an autopsy that evaluates expressions without running anything.

// integer evaluates a whole number.
func (a *autopsy) integer(e ast.Expr) (int, bool) {
	v, ok := a.value(e)
	if !ok || !v.IsValid() {
		return 0, false
	}
	switch {
	case v.CanInt():
		return int(v.Int()), true
	case v.CanUint():
		return int(v.Uint()), true
	}
	return 0, false
}

// length evaluates the length of a slice, array or text.
func (a *autopsy) length(e ast.Expr) (int, bool) {
	v, ok := a.value(e)
	if !ok || !v.IsValid() {
		return 0, false
	}
	if v.Kind() == reflect.Pointer && !v.IsNil() {
		v = v.Elem()
	}
	switch v.Kind() {
	case reflect.Slice, reflect.Array, reflect.String:
		return v.Len(), true
	}
	return 0, false
}

// capacity evaluates how far e can be sliced; length is its length.
func (a *autopsy) capacity(e ast.Expr, length int) int {
	if v, ok := a.value(e); ok && v.Kind() == reflect.Slice {
		return v.Cap()
	}
	return length
}

// value evaluates an expression that has no effect and cannot fail; it reports
// false for any other.
func (a *autopsy) value(e ast.Expr) (reflect.Value, bool) {
	none := reflect.Value{}
	switch e := e.(type) {
	case *ast.ParenExpr:
		return a.value(e.X)
	case *ast.BasicLit:
		if e.Kind == token.INT {
			if n, ok := constant.Int64Val(constant.MakeFromLiteral(e.Value, e.Kind, 0)); ok {
				return reflect.ValueOf(int(n)), true
			}
		}
	case *ast.Ident:
		v, t, ok := a.vars.lookup(e.Name)
		if !ok {
			return none, false
		}
		if !v.IsValid() {
			return none, t != nil
		}
		r := v.ReflectValue()
		if r.IsValid() && r.CanInterface() {
			if lit, ok := r.Interface().(untyped.Lit); ok {
				if n, exact := constant.Int64Val(constant.ToInt(lit.Val)); exact {
					return reflect.ValueOf(int(n)), true
				}
				return none, false
			}
		}
		return r, true
	case *ast.UnaryExpr:
		if n, ok := a.integer(e.X); ok && e.Op == token.SUB {
			return reflect.ValueOf(-n), true
		}
	case *ast.BinaryExpr:
		x, okx := a.integer(e.X)
		y, oky := a.integer(e.Y)
		if !okx || !oky {
			return none, false
		}
		switch e.Op {
		case token.ADD:
			return reflect.ValueOf(x + y), true
		case token.SUB:
			return reflect.ValueOf(x - y), true
		case token.MUL:
			return reflect.ValueOf(x * y), true
		case token.QUO:
			if y != 0 {
				return reflect.ValueOf(x / y), true
			}
		case token.REM:
			if y != 0 {
				return reflect.ValueOf(x % y), true
			}
		}
	case *ast.CallExpr:
		if id, ok := e.Fun.(*ast.Ident); ok && id.Name == "len" && len(e.Args) == 1 {
			if n, ok := a.length(e.Args[0]); ok {
				return reflect.ValueOf(n), true
			}
		}
	case *ast.IndexExpr:
		list, ok := a.value(e.X)
		if !ok || !list.IsValid() {
			return none, false
		}
		switch list.Kind() {
		case reflect.Slice, reflect.Array:
			if i, ok := a.integer(e.Index); ok && i >= 0 && i < list.Len() {
				return list.Index(i), true
			}
		case reflect.Map:
			k, ok := a.value(e.Index)
			if lit, isLit := e.Index.(*ast.BasicLit); isLit && lit.Kind == token.STRING {
				k, ok = reflect.ValueOf(constant.StringVal(constant.MakeFromLiteral(lit.Value, lit.Kind, 0))), true
			}
			if ok && k.IsValid() && k.Type().AssignableTo(list.Type().Key()) {
				if v := list.MapIndex(k); v.IsValid() {
					return v, true
				}
				return reflect.Zero(list.Type().Elem()), true
			}
		}
	case *ast.SelectorExpr:
		x, ok := a.value(e.X)
		if !ok || !x.IsValid() {
			return none, false
		}
		for x.Kind() == reflect.Pointer || x.Kind() == reflect.Interface {
			if x.IsNil() {
				return none, false
			}
			x = x.Elem()
		}
		if x.Kind() == reflect.Struct {
			if f := fieldOf(x, e.Sel.Name); f.IsValid() {
				return f, true
			}
		}
	}
	return none, false
}

// fieldOf finds a field; the engine puts a mark before unexported names.
func fieldOf(x reflect.Value, name string) reflect.Value {
	for i := range x.NumField() {
		if n := x.Type().Field(i).Name; n == name || !isUpper(name) && strings.HasSuffix(n, name) && len([]rune(n)) == len([]rune(name))+1 {
			return x.Field(i)
		}
	}
	return reflect.Value{}
}
