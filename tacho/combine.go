package tacho

import (
	"fmt"
	"math"
)

// Scale returns k times v, k being exact, in the given unit.
func (v Value) Scale(k float64, unit string) Value {
	return linear(k*v.X, unit, v, k, Value{}, 0)
}

// Add returns v + w in the unit of v; w is converted to it.
//
// It panics if the units are of different kinds of quantity: convert or rename
// one of them first, with To or As.
func (v Value) Add(w Value) Value {
	w = w.inUnitOf(v, "add")
	return linear(v.X+w.X, v.Unit, v, 1, w, 1)
}

// Sub returns v - w in the unit of v; w is converted to it. What v and w have in
// common cancels: x.Sub(x) is exactly 0. It panics like Add.
func (v Value) Sub(w Value) Value {
	w = w.inUnitOf(v, "subtract")
	return linear(v.X-w.X, v.Unit, v, 1, w, -1)
}

func (w Value) inUnitOf(v Value, verb string) Value {
	if w.Unit == v.Unit {
		return w
	}
	c, err := w.To(v.Unit)
	if err != nil {
		panic(fmt.Sprintf("tacho: cannot %s %q and %q: give both the same unit first", verb, v.Unit, w.Unit))
	}
	return c
}

// Mul returns v·w to first order in the uncertainties. The units multiply, such
// as m/s by s to m; symbols are not converted. Use As where another name fits.
func (v Value) Mul(w Value) Value {
	return linear(v.X*w.X, composeUnits(v.Unit, w.Unit, 1), v, w.X, w, v.X)
}

// Div returns v/w to first order in the uncertainties. The units divide. A
// divisor of 0 makes the result infinite or not a number, and so it prints.
func (v Value) Div(w Value) Value {
	q := v.X / w.X
	return linear(q, composeUnits(v.Unit, w.Unit, -1), v, 1/w.X, w, -q/w.X)
}

// Pow returns v to the power p, p being exact, in the given unit, to first order
// in the uncertainty. The result is not a number where the power is none, such
// as a root of a negative number.
func (v Value) Pow(p float64, unit string) Value {
	slope := 0.0
	if p != 0 {
		slope = p * math.Pow(v.X, p-1)
	}
	return linear(math.Pow(v.X, p), unit, v, slope, Value{}, 0)
}

// As returns v with its unit called otherwise and the number unchanged: it is
// for units that follow from the physics and not from the symbols, such as
// rev/s for the hertz of a rotor with one blade. To converts instead.
func (v Value) As(unit string) Value {
	v.Unit = unit
	return v
}

// Named returns v with all its uncertainty under one name.
func (v Value) Named(name string) Value {
	if u := v.U(); u != 0 {
		dof, shape := v.DOF(), Normal
		if math.IsInf(dof, 1) {
			dof = 0
		}
		if parts := merge(v.Parts); len(parts) == 1 {
			shape = parts[0].Shape
		}
		v.Parts = []Part{{Name: name, U: u, DOF: dof, Shape: shape}}
	} else {
		v.Parts = nil
	}
	return v
}

// Combine returns f of the numbers of in, in the given unit, with the
// uncertainty that follows to first order from theirs (GUM 5.1.2, with the
// parts of equal name taken as fully correlated, 5.2.2). f gets the numbers in
// the order of in and must not keep the slice.
//
// The derivatives of f are taken numerically, from four points within a tenth
// of a standard uncertainty of each number; for a smooth f they are right to
// about six digits. Where f bends noticeably within the uncertainties, first
// order is not enough: compare with [MonteCarlo].
func Combine(unit string, f func(x []float64) float64, in ...Value) Value {
	x := numbers(in)
	out := Value{X: f(x), Unit: unit}
	for i, v := range in {
		u := v.U()
		if u == 0 {
			continue
		}
		slope := derivative(f, x, i, u)
		for _, p := range v.Parts {
			p.U *= slope
			out.Parts = append(out.Parts, p)
		}
	}
	out.Parts = merge(out.Parts)
	return out
}

func numbers(in []Value) []float64 {
	x := make([]float64, len(in))
	for i, v := range in {
		x[i] = v.X
	}
	return x
}

// derivative returns df/dx[i] by central differences at two steps, from which
// the third derivative is eliminated (Richardson). x is left as it was.
func derivative(f func([]float64) float64, x []float64, i int, u float64) float64 {
	at := x[i]
	central := func(h float64) float64 {
		lo, hi := at-h, at+h
		x[i] = hi
		y := f(x)
		x[i] = lo
		y -= f(x)
		x[i] = at
		return y / (hi - lo)
	}
	// Wide enough for the difference to keep ten digits, narrow beside u.
	h := max(0.1*u, 1e-5*math.Abs(at))
	return (4*central(h/2) - central(h)) / 3
}

// Score returns how far apart a and b are, (a - b)/u(a - b), in units of the
// standard uncertainty of the difference; what they share cancels. Beyond ±2
// they disagree at about the 95 % level. It is 0 for equal numbers and ±Inf for
// different ones when the difference has no uncertainty. It panics like Sub.
func Score(a, b Value) float64 {
	d := a.Sub(b)
	if d.X == 0 {
		return 0
	}
	return d.X / d.U()
}

// Share is the part that one cause has in an uncertainty.
type Share struct {
	Name string
	// U is its contribution in the unit of the value, without sign.
	U float64
	// Fraction is its share of the squared uncertainty, 0 to 1.
	Fraction float64
}

// String names the share and gives it in per cent.
func (s Share) String() string {
	if s.Fraction < 0.01 {
		return s.Name + " < 1 %"
	}
	return fmt.Sprintf("%s %.0f %%", s.Name, 100*s.Fraction)
}

// Budget returns the contributions to the uncertainty of v, the largest first:
// the top one is what to measure better next time.
func (v Value) Budget() []Share {
	u := v.U()
	var shares []Share
	for _, p := range merge(v.Parts) {
		if p.U == 0 {
			continue
		}
		s := Share{Name: p.Name, U: math.Abs(p.U), Fraction: (p.U / u) * (p.U / u)}
		i := len(shares)
		for i > 0 && shares[i-1].U < s.U {
			i--
		}
		shares = append(shares, Share{})
		copy(shares[i+1:], shares[i:])
		shares[i] = s
	}
	return shares
}
