package tacho

import (
	"fmt"
	"math"
)

// A body's moment of inertia I says how hard it is to start or stop turning:
// torque = I · angular acceleration. The functions of this file give it, in
// kg·m², for simple shapes of even density, from a mass and a length with any
// units. They return ErrUnit for a mass or length that is none and ErrOption for
// one that is not more than 0.
//
// Source of all: W. Moebs, S. Ling, J. Sanny, University Physics 1 (OpenStax),
// figure 10.20; the cone is from memory.

// DiscInertia returns that of a disc or cylinder about its axis, m r²/2.
func DiscInertia(mass, radius Value) (Value, error) { return inertiaOf(0.5, mass, radius) }

// RingInertia returns that of a thin ring or hoop about its axis, m r².
func RingInertia(mass, radius Value) (Value, error) { return inertiaOf(1, mass, radius) }

// BallInertia returns that of a ball about an axis through its centre, 2/5 m r².
func BallInertia(mass, radius Value) (Value, error) { return inertiaOf(0.4, mass, radius) }

// ConeInertia returns that of a solid cone about its axis, 3/10 m r², with r the
// radius of its base.
func ConeInertia(mass, radius Value) (Value, error) { return inertiaOf(0.3, mass, radius) }

// RodInertia returns that of a thin rod about an axis across its middle, m L²/12.
func RodInertia(mass, length Value) (Value, error) { return inertiaOf(1./12, mass, length) }

// RodEndInertia returns that of a thin rod about an axis across its end, m L²/3.
func RodEndInertia(mass, length Value) (Value, error) { return inertiaOf(1./3, mass, length) }

// ShiftedInertia returns the moment of inertia about an axis at the given
// distance from a parallel axis through the centre of mass, about which it is
// inertia: inertia + m d² (the parallel-axis theorem).
func ShiftedInertia(inertia, mass, distance Value) (Value, error) {
	inertia, err := inertiaSI(inertia)
	if err != nil {
		return Value{}, err
	}
	shift, err := inertiaOf(1, mass, distance)
	if err != nil {
		return Value{}, err
	}
	return inertia.Add(shift), nil
}

// RotationalEnergy returns the energy in joules of a body with the given moment
// of inertia at shaft speed fr, in rev/s or another unit: I (2π fr)²/2.
func RotationalEnergy(inertia, fr Value) (Value, error) {
	inertia, err := inertiaSI(inertia)
	if err != nil {
		return Value{}, err
	}
	if fr, err = (Rotor{}).Speed(fr); err != nil {
		return Value{}, err
	}
	return inertia.Mul(fr).Mul(fr).Scale(2*math.Pi*math.Pi, "J"), nil
}

func inertiaOf(k float64, mass, length Value) (Value, error) {
	m, err := positive("mass", mass, "kg")
	if err != nil {
		return Value{}, err
	}
	r, err := positive("length", length, "m")
	if err != nil {
		return Value{}, err
	}
	return m.Mul(r).Mul(r).Scale(k, "kg·m²"), nil
}

func inertiaSI(v Value) (Value, error) { return positive("moment of inertia", v, "kg·m²") }

// positive returns v in the given unit, if that fits and it is more than 0.
func positive(what string, v Value, unit string) (Value, error) {
	c, err := v.To(unit)
	if err != nil {
		return Value{}, fmt.Errorf("the %s: %w", what, err)
	}
	if !(c.X > 0) || math.IsInf(c.X, 1) {
		return Value{}, optionError("a %s of %v: it must be finite and more than 0", what, v)
	}
	return c, nil
}
