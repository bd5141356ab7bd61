package tacho

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
)

// Friction is a law by which a rotor left alone slows down:
//
//	-dfr/dt = Coulomb + Viscous·fr + Quadratic·fr²
//
// Coulomb friction, in rev/s², is that of dry surfaces and the same at every
// speed; viscous friction, Viscous in 1/s, is that of grease and of slow air;
// quadratic friction, Quadratic in 1/rev, is that of air swirled about. A zero
// Value leaves its term out.
type Friction struct {
	Coulomb, Viscous, Quadratic Value
}

// Units of the constants of Friction.
var frictionUnits = [3]string{"rev/s²", "1/s", "1/rev"}

// frictionNames are the names of the terms.
var frictionNames = [3]string{"Coulomb", "viscous", "quadratic"}

// Name names the terms that the law has, such as "Coulomb + viscous".
func (l Friction) Name() string {
	var names []string
	for i, v := range l.values() {
		if v.X != 0 || len(v.Parts) > 0 {
			names = append(names, frictionNames[i])
		}
	}
	if len(names) == 0 {
		return "no friction"
	}
	return strings.Join(names, " + ")
}

// String says what the law is, with its constants.
func (l Friction) String() string {
	s := l.Name()
	sep := ": "
	for _, v := range l.values() {
		if v.X != 0 || len(v.Parts) > 0 {
			s += sep + v.String()
			sep = ", "
		}
	}
	return s
}

func (l Friction) values() [3]Value {
	v := [3]Value{l.Coulomb, l.Viscous, l.Quadratic}
	for i := range v {
		v[i].Unit = frictionUnits[i]
	}
	return v
}

// Decel returns the deceleration in rev/s² at the shaft speed fr, which is in
// rev/s or another unit of shaft speed. It returns ErrUnit for anything else.
func (l Friction) Decel(fr Value) (Value, error) {
	return l.combine("rev/s²", func(c [3]float64, x []float64) float64 {
		return c[0] + (c[1]+c[2]*x[0])*x[0]
	}, fr)
}

// SpeedAfter returns the shaft speed, in rev/s, to which a rotor has slowed
// down seconds after it had the speed start; 0 if it is at rest by then. It
// returns ErrUnit and ErrOption for what is no speed.
func (l Friction) SpeedAfter(start Value, seconds float64) (Value, error) {
	if !(seconds >= 0) || math.IsInf(seconds, 1) {
		return Value{}, optionError("%g s after the start: it must be finite and not negative", seconds)
	}
	return l.combine("rev/s", func(c [3]float64, x []float64) float64 {
		if t := runDown(c, x[0], 0); t <= seconds {
			return 0
		}
		return real(coast(complex(c[0], 0), complex(c[1], 0), complex(c[2], 0), complex(x[0], 0), seconds))
	}, start)
}

// RunDown returns the time in seconds in which a rotor slows down from one shaft
// speed to another, such as to rest: to = 0 rev/s.
//
// It returns ErrOption where that takes for ever: without friction, and to rest
// where there is no Coulomb friction.
func (l Friction) RunDown(from, to Value) (Value, error) {
	t, err := l.combine("s", func(c [3]float64, x []float64) float64 { return runDown(c, x[0], x[1]) }, from, to)
	switch {
	case err != nil:
		return Value{}, err
	case to.X > from.X:
		return Value{}, optionError("a run-down from %v to %v: a rotor left alone does not speed up", from, to)
	case math.IsInf(t.X, 1) || math.IsNaN(t.X):
		return Value{}, optionError("with %s friction a rotor never comes down from %v to %v", l.Name(), from, to)
	}
	return t, nil
}

// StartFor returns the shaft speed, in rev/s, at which a rotor must be left
// alone to be still at the speed end after so many seconds.
//
// With quadratic friction there may be no such speed: the faster the rotor, the
// sooner it loses what it has. It then returns ErrOption and says how long it
// takes at most. See [Friction.Longest].
func (l Friction) StartFor(end Value, seconds float64) (Value, error) {
	if !(seconds >= 0) || math.IsInf(seconds, 1) {
		return Value{}, optionError("to hold for %g s: the time must be finite and not negative", seconds)
	}
	v, err := l.combine("rev/s", func(c [3]float64, x []float64) float64 {
		if longest(c, x[0]) <= seconds {
			return math.Inf(1)
		}
		return real(coast(complex(c[0], 0), complex(c[1], 0), complex(c[2], 0), complex(x[0], 0), -seconds))
	}, end)
	if err == nil && math.IsInf(v.X, 1) {
		most, _ := l.Longest(end)
		return Value{}, optionError("no speed is enough for %g s: from any speed, however high, it falls to %v within %v", seconds, end, most)
	}
	return v, err
}

// Longest returns the time in seconds after which a rotor is down to the speed
// end, however fast it was at the start. It is infinite where there is no
// quadratic friction.
func (l Friction) Longest(end Value) (Value, error) {
	if l.Quadratic.X == 0 {
		return Exact(math.Inf(1), "s"), nil
	}
	return l.combine("s", func(c [3]float64, x []float64) float64 { return longest(c, x[0]) }, end)
}

// Torque returns the torque of the friction in N·m on a rotor with the given
// moment of inertia at shaft speed fr: 2π times the inertia times Decel.
func (l Friction) Torque(inertia, fr Value) (Value, error) {
	d, err := l.Decel(fr)
	if err != nil {
		return Value{}, err
	}
	if inertia, err = inertiaSI(inertia); err != nil {
		return Value{}, err
	}
	return inertia.Mul(d).Scale(2*math.Pi, "N·m"), nil
}

// Power returns the power in watts that friction takes from a rotor with the
// given moment of inertia at shaft speed fr: the torque times 2π fr.
func (l Friction) Power(inertia, fr Value) (Value, error) {
	torque, err := l.Torque(inertia, fr)
	if err != nil {
		return Value{}, err
	}
	if fr, err = (Rotor{}).Speed(fr); err != nil {
		return Value{}, err
	}
	return torque.Mul(fr).Scale(2*math.Pi, "W"), nil
}

// Shares returns what part each term has in the deceleration at shaft speed fr,
// the largest first, as fractions from 0 to 1.
func (l Friction) Shares(fr Value) ([]Share, error) {
	fr, err := (Rotor{}).Speed(fr)
	if err != nil {
		return nil, err
	}
	power := 1.0
	sum := 0.0
	var out []Share
	for i, v := range l.values() {
		if u := v.X * power; u > 0 {
			out = append(out, Share{Name: frictionNames[i], U: u})
			sum += u
		}
		power *= fr.X
	}
	for i := range out {
		out[i].Fraction = out[i].U / sum
	}
	for i := range out {
		for j := i; j > 0 && out[j].U > out[j-1].U; j-- {
			out[j], out[j-1] = out[j-1], out[j]
		}
	}
	return out, nil
}

// combine is [Combine] of the constants and of shaft speeds in any unit.
func (l Friction) combine(unit string, f func(c [3]float64, x []float64) float64, speeds ...Value) (Value, error) {
	v := l.values()
	in := v[:]
	for _, s := range speeds {
		fr, err := (Rotor{}).Speed(s)
		if err != nil {
			return Value{}, err
		}
		in = append(in, fr)
	}
	for i := range v {
		if math.IsNaN(v[i].X) || math.IsInf(v[i].X, 0) {
			return Value{}, fmt.Errorf("%w: the %s constant of the friction is %v", ErrNotFinite, frictionNames[i], v[i].X)
		}
	}
	return Combine(unit, func(x []float64) float64 {
		return f([3]float64{x[0], x[1], x[2]}, x[3:])
	}, in...), nil
}

// coast returns the speed t seconds after it was f. The equation of motion is a
// Riccati equation with constant coefficients; with ω² = b²/4 - ac, C = cosh ωt
// and S = sinh(ωt)/ω its solution is
//
//	f(t) = ((C - b/2 S) f - a S) / (c S f + C + b/2 S)
//
// for every sign of ω². The arguments are complex so that a tiny imaginary part
// of one of them gives the exact derivative.
func coast(a, b, c, f complex128, t float64) complex128 {
	w2 := b*b/4 - a*c
	T := complex(t, 0)
	C, S := complex(1, 0)+w2*T*T/2, T*(1+w2*T*T/6)
	if cmplx.Abs(w2)*t*t > 1e-8 {
		w := cmplx.Sqrt(w2)
		C, S = cmplx.Cosh(w*T), cmplx.Sinh(w*T)/w
	}
	return ((C-b/2*S)*f - a*S) / (c*S*f + C + b/2*S)
}

// runDown returns the time from speed f0 down to f1: the solution above, solved
// for t; infinite where the rotor never gets there.
func runDown(c [3]float64, f0, f1 float64) float64 {
	if f0 == f1 {
		return 0
	}
	y := c[0] + c[1]/2*(f0+f1) + c[2]*f0*f1
	return arc(c, f0-f1, y)
}

// longest is runDown from infinite speed.
func longest(c [3]float64, f1 float64) float64 {
	if c[2] == 0 {
		return math.Inf(1)
	}
	return arc(c, 1, c[1]/2+c[2]*f1)
}

// arc returns t from tanh(ωt)/ω = d/y, with the function that suits the sign of
// ω².
func arc(c [3]float64, d, y float64) float64 {
	w2 := c[1]*c[1]/4 - c[0]*c[2]
	x := d / y
	switch z := w2 * x * x; {
	case y == 0 && w2 >= 0:
		return math.Inf(1)
	case math.Abs(z) < 1e-8:
		return x * (1 + z/3)
	case z >= 1:
		return math.Inf(1)
	case w2 > 0:
		w := math.Sqrt(w2)
		return math.Atanh(w*x) / w
	default:
		w := math.Sqrt(-w2)
		return math.Atan2(w*d, y) / w
	}
}
