package interp

import (
	"fmt"
	"runtime"
	"strings"

	"rotorhum/kernel/pattern"
)

// The engine works through package reflect, so what goes wrong at run time
// goes wrong in reflect's words. asGoPanic turns the panic value of such a
// failure into the one a compiled program would have.

// goPanic is a run-time error in Go's words.
type goPanic string

func (p goPanic) Error() string { return "runtime error: " + string(p) }
func (goPanic) RuntimeError()   {}

var _ runtime.Error = goPanic("")

// The words of the run-time errors that advice is given for.
const (
	indexPanic = "index out of range"
	slicePanic = "slice bounds out of range"
	nilPanic   = "invalid memory address or nil pointer dereference"
	makePanic  = "makeslice: len out of range"
	mapPanic   = "assignment to entry in nil map"
)

var angled = pattern.New(`<([^<>]*)>`)

func asGoPanic(v any) any {
	msg := ""
	switch v := v.(type) {
	case nil:
		return nil
	case string:
		msg = v
	case error:
		msg = v.Error()
	default:
		return v
	}
	switch {
	case strings.HasPrefix(msg, "runtime error: "):
		return v
	case strings.HasPrefix(msg, "reflect: slice index out of range"),
		strings.HasPrefix(msg, "reflect: array index out of range"),
		strings.HasPrefix(msg, "reflect: string index out of range"):
		return goPanic(indexPanic)
	case strings.HasPrefix(msg, "reflect.Value.Slice"), strings.HasPrefix(msg, "reflect.Value.Slice3"):
		return goPanic(slicePanic)
	case strings.HasPrefix(msg, "reflect.MakeSlice: "):
		return goPanic(makePanic)
	case strings.HasPrefix(msg, "reflect: call of") && strings.HasSuffix(msg, "on zero Value"),
		strings.HasPrefix(msg, "reflect: call of nil"), strings.HasPrefix(msg, "reflect: Method on nil interface"), strings.HasPrefix(msg, "reflect: nil pointer"):
		return goPanic(nilPanic)
	case strings.HasPrefix(msg, "interface conversion: "):
		plain := angled.Regexp().ReplaceAllString(msg, "$1")
		plain = strings.Replace(plain, "interface conversion: interface{} is", "interface conversion: interface {} is", 1)
		return fmt.Errorf("%s", plain)
	}
	return v
}
