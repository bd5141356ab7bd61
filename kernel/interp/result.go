package interp

import (
	"fmt"
	"strings"

	breflect "github.com/cosmos72/gomacro/base/reflect"
	xr "github.com/cosmos72/gomacro/xreflect"

	"rotorhum/kernel/cell"
)

// result renders the values of a cell's last expression. A non-nil error
// among them fails the cell.
func (in *Interp) result(src *source, vals []xr.Value, types []xr.Type) (*cell.Bundle, *cell.Fault) {
	if len(vals) == 0 {
		return nil, nil
	}
	var texts []string
	for i, v := range vals {
		if !v.IsValid() {
			texts = append(texts, "<nil>")
			continue
		}
		x := breflect.ValueInterface(v)
		if err, ok := x.(error); ok && i == len(vals)-1 {
			return nil, newFault(errorName, err.Error(), place{}, nil, "")
		}
		texts = append(texts, fmt.Sprint(x))
	}
	return &cell.Bundle{Data: map[string]any{"text/plain": strings.Join(texts, " ")}}, nil
}

// Expr evaluates one expression and renders its value.
func (in *Interp) Expr(code string) (cell.Bundle, *cell.Fault) {
	src := newSource("expression", code)
	vals, types, fault := in.exec(src)
	if fault != nil {
		return cell.Bundle{}, fault
	}
	b, fault := in.result(src, vals, types)
	if b == nil {
		return cell.Bundle{}, fault
	}
	return *b, fault
}

// IsComplete says whether code is "complete", "incomplete" or "invalid".
func (in *Interp) IsComplete(code string) (status, indent string) {
	_, err := newLibrary().parse(newSource("code", code))
	switch e, _ := err.(*syntaxError); {
	case e == nil:
		return "complete", ""
	case e.open:
		return "incomplete", "\t"
	}
	return "invalid", ""
}

func (in *Interp) Complete(code string, pos int) cell.Completion {
	return cell.Completion{Start: pos, End: pos}
}

func (in *Interp) Inspect(code string, pos, detail int) (cell.Bundle, bool) {
	return cell.Bundle{}, false
}
