package tacho

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Value is a measured or computed number with its unit and its standard
// uncertainty, held as a short list of named contributions.
//
// Contributions of the same name are the same error seen twice and add with
// their signs; contributions of different names are independent and add as
// squares (GUM, JCGM 100:2008, 5.1 and 5.2). Every operation keeps the list, so
// that a result can say which of its inputs is worth measuring better.
//
// The zero Value is the exact number 0 without a unit.
type Value struct {
	// X is the number.
	X float64
	// Unit is its unit, such as "m/s"; empty for a plain number.
	Unit string
	// Parts are the contributions to its uncertainty; none for an exact number.
	Parts []Part
}

// Part is one named contribution to the uncertainty of a Value.
type Part struct {
	// Name says where it comes from: "tone", "clock", "radius".
	Name string
	// U is the change of the value, in its unit, when this cause is off by one
	// standard uncertainty. Its sign says which way.
	U float64
	// DOF is the number of degrees of freedom behind U, how well U itself is
	// known: n-1 for the standard deviation of the mean of n readings, 0 for
	// infinitely many, where U is taken as known.
	DOF float64
	// Shape is the form of its distribution; empty for Normal. It matters only
	// to [MonteCarlo].
	Shape Shape
}

// Exact returns a number without uncertainty: a count or a definition.
func Exact(x float64, unit string) Value { return Value{X: x, Unit: unit} }

// Measured returns x with one contribution to its uncertainty: u, the standard
// uncertainty in the same unit, under the given name.
func Measured(x, u float64, unit, name string) Value {
	return Value{X: x, Unit: unit, Parts: []Part{{Name: name, U: u}}}
}

// U returns the combined standard uncertainty in the unit of the value; 0 for
// an exact number (GUM 5.1.2 and, for parts of one name, 5.2.2).
func (v Value) U() float64 {
	var u float64
	for _, p := range merge(v.Parts) {
		u = math.Hypot(u, p.U)
	}
	return u
}

// DOF returns the effective degrees of freedom of U by the Welch-Satterthwaite
// formula (GUM G.4.1, equation G.2b)
//
//	ν = u⁴ / Σ (u_i⁴ / ν_i)
//
// over the contributions u_i with ν_i degrees of freedom. It is +Inf when all
// of them are known well or there are none.
func (v Value) DOF() float64 {
	parts := merge(v.Parts)
	u := v.U()
	var sum float64
	for _, p := range parts {
		if p.DOF > 0 && p.U != 0 {
			share := p.U / u
			sum += share * share * share * share / p.DOF
		}
	}
	return 1 / sum
}

// K returns the coverage factor for probability p between 0 and 1: X ± K(p)·U
// holds the true value with probability p. It is Student's factor for DOF
// degrees of freedom, cut down to a whole number (GUM G.4.1), and the normal
// one when they are infinite. It is 0 for p = 0, +Inf for p = 1 and NaN outside.
func (v Value) K(p float64) float64 { return coverage(p, v.DOF()) }

func coverage(p, dof float64) float64 {
	switch {
	case p == 0:
		return 0
	case p == 1:
		return math.Inf(1)
	case !(p > 0 && p < 1) || math.IsNaN(dof):
		return math.NaN()
	}
	const asNormal = 1e6 // Student's factor differs by less than 1e-6 from there
	if dof > asNormal {
		return distuv.UnitNormal.Quantile((1 + p) / 2)
	}
	if dof > 1 {
		dof = math.Floor(dof)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.Quantile((1 + p) / 2)
}

// Interval returns the interval that holds the true value with probability p,
// X - K(p)·U to X + K(p)·U. An exact number is its own interval.
func (v Value) Interval(p float64) (lo, hi float64) {
	u := v.U()
	if u == 0 {
		return v.X, v.X
	}
	half := v.K(p) * u
	return v.X - half, v.X + half
}

// CI95 returns the 95 % interval.
func (v Value) CI95() (lo, hi float64) { return v.Interval(0.95) }

// String prints the value and its standard uncertainty, rounded to two
// significant digits of the latter, such as "62.50 ± 0.17 rev/s".
func (v Value) String() string { return formatMeasured(v.X, v.U(), v.Unit) }

// merge adds the contributions of equal name and keeps the order in which the
// names first appear. Where the degrees of freedom differ it keeps the fewest.
func merge(parts []Part) []Part {
	out := make([]Part, 0, len(parts))
next:
	for _, p := range parts {
		for i := range out {
			if out[i].Name == p.Name {
				out[i].U += p.U
				out[i].DOF = fewer(out[i].DOF, p.DOF)
				continue next
			}
		}
		out = append(out, p)
	}
	return out
}

// fewer returns the smaller of two numbers of degrees of freedom, of which 0
// means infinitely many.
func fewer(a, b float64) float64 {
	if a <= 0 || (b > 0 && b < a) {
		return b
	}
	return a
}

// linear returns f with the contributions of v times dv and those of w times dw.
func linear(x float64, unit string, v Value, dv float64, w Value, dw float64) Value {
	parts := make([]Part, 0, len(v.Parts)+len(w.Parts))
	for _, p := range v.Parts {
		p.U *= dv
		parts = append(parts, p)
	}
	for _, p := range w.Parts {
		p.U *= dw
		parts = append(parts, p)
	}
	return Value{X: x, Unit: unit, Parts: merge(parts)}
}
