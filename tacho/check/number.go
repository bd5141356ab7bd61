package check

import (
	"fmt"
	"math"
	"reflect"
	"strings"

	"rotorhum/tacho"
)

// number is what a check compares: a number and its unit.
type number struct {
	x    float64
	unit string
}

// numberOf reads any number, quantity or value.
func numberOf(v any) (number, error) {
	switch v := v.(type) {
	case tacho.Value:
		return number{v.X, v.Unit}, nil
	case *tacho.Value:
		if v != nil {
			return number{v.X, v.Unit}, nil
		}
	case nil:
		return number{}, fmt.Errorf("there is no number, only nil")
	}
	r := reflect.ValueOf(v)
	n := number{}
	switch {
	case r.CanFloat():
		n.x = r.Float()
	case r.CanInt():
		n.x = float64(r.Int())
	case r.CanUint():
		n.x = float64(r.Uint())
	default:
		return n, fmt.Errorf("%T is not a number; give a number, a quantity or a Value", v)
	}
	// A quantity prints its unit behind the number.
	if s, ok := v.(fmt.Stringer); ok {
		if _, unit, ok := strings.Cut(s.String(), " "); ok && !math.IsNaN(n.x) && !math.IsInf(n.x, 0) {
			n.unit = unit
		}
	}
	return n, nil
}

// numbersOf reads several numbers that must have one unit; those without a unit
// take that of the others.
func numbersOf(vs ...any) ([]number, error) {
	ns := make([]number, len(vs))
	unit := ""
	for i, v := range vs {
		n, err := numberOf(v)
		if err != nil {
			return nil, err
		}
		ns[i] = n
		switch {
		case unit == "":
			unit = n.unit
		case n.unit != "" && n.unit != unit:
			return nil, fmt.Errorf("one number is in %s, another in %s; convert one of them", unit, n.unit)
		}
	}
	for i := range ns {
		ns[i].unit = unit
	}
	return ns, nil
}

// rounded prints the number to two digits of step, which is positive, or with
// the digits it needs if step is 0.
func (n number) rounded(step float64) string {
	if !(step > 0) || math.IsInf(step, 0) {
		return tacho.Exact(n.x, n.unit).String()
	}
	return tacho.Measured(n.x, step, n.unit, "tolerance").Rounded()
}
