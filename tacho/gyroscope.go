package tacho

import (
	"fmt"
	"math"
)

// Top is a spinning top or gyroscope that leans on a point of its axis.
type Top struct {
	// Mass is its mass, Arm the distance from the point it stands on to its
	// centre of mass, Inertia its moment of inertia about the axis it spins on.
	Mass, Arm, Inertia Value
	// Transverse is its moment of inertia about a line across the axis through
	// the point it stands on. Only HoldSpin, SteadyPrecession and FastTopExcess
	// need it; see [ShiftedInertia].
	Transverse Value
	// Tilt is the angle of the axis to the upright; exact 0 if it is not given.
	Tilt Value
}

// Product returns the precession rate times the spin of a fast top, in rev²/s²:
//
//	fp·fr = m g l / (4π² I)
//
// It returns ErrUnit or ErrOption for a mass, arm or inertia that is none.
func (t Top) Product() (Value, error) {
	torque, inertia, err := t.torqueAndInertia()
	if err != nil {
		return Value{}, err
	}
	k := torque.Div(inertia).Scale(1/(4*math.Pi*math.Pi), "rev²/s²")
	u := k.U()
	parts := k.Parts[:0]
	for _, p := range k.Parts { // a mass above and below the line cancels but for rounding
		if math.Abs(p.U) > 1e-12*u {
			parts = append(parts, p)
		}
	}
	k.Parts = parts
	return k, nil
}

// Precession returns the precession rate in rev/s of a fast top at spin fr:
//
//	fp = m g l / (4π² I fr)
//
// whatever the tilt. It is the limit of much spin; at less the top goes round
// somewhat faster: see [Top.FastTopExcess].
//
// Source: OpenStax University Physics 1, section 11.4.
func (t Top) Precession(fr Value) (Value, error) {
	k, err := t.Product()
	if err != nil {
		return Value{}, err
	}
	if fr, err = (Rotor{}).Speed(fr); err != nil {
		return Value{}, err
	}
	return k.Div(fr).As("rev/s"), nil
}

// HoldSpin returns the least spin, in rev/s, at which the top can precess
// steadily at its tilt (upright: at which it can sleep):
//
//	fr = √(m g l I' cos θ) / (π I)
//
// with I' the transverse inertia. Below it the top must fall.
//
// Source: H. Goldstein, Classical Mechanics, section "The heavy symmetrical top
// with one point fixed" (from memory).
func (t Top) HoldSpin() (Value, error) {
	torque, inertia, err := t.torqueAndInertia()
	if err != nil {
		return Value{}, err
	}
	across, tilt, err := t.acrossAndTilt()
	if err != nil {
		return Value{}, err
	}
	return Combine("rev/s", func(x []float64) float64 {
		return math.Sqrt(x[0]*x[2]*math.Cos(x[3])) / (math.Pi * x[1])
	}, torque, inertia, across, tilt), nil
}

// SteadyPrecession returns the slow steady precession in rev/s at spin fr, not
// only in the limit of much spin: the smaller root of
//
//	I' cos θ Ω² - I ω Ω + m g l = 0
//
// with fr the spin about the axis, the part of the precession that lies along it
// included. It returns ErrOption below [Top.HoldSpin], where there is none.
func (t Top) SteadyPrecession(fr Value) (Value, error) {
	least, err := t.HoldSpin()
	if err != nil {
		return Value{}, err
	}
	if fr, err = (Rotor{}).Speed(fr); err != nil {
		return Value{}, err
	}
	if fr.X < least.X {
		return Value{}, optionError("at %v the top cannot precess steadily: it needs %v to hold itself", fr, least)
	}
	fast, err := t.Precession(fr)
	if err != nil {
		return Value{}, err
	}
	return Combine("rev/s", func(x []float64) float64 { return x[0] * (1 + fastTopExcess(x[1]/x[2])) }, fast, least, fr), nil
}

// FastTopExcess returns by what fraction the steady precession at spin fr is
// faster than the fast-top formula says: with x = (HoldSpin/fr)²,
//
//	2 (1 - √(1-x))/x - 1, about x/4
//
// It has no unit, is 1 at HoldSpin and falls with the square of the spin. It
// returns ErrOption below HoldSpin.
func (t Top) FastTopExcess(fr Value) (Value, error) {
	steady, err := t.SteadyPrecession(fr)
	if err != nil {
		return Value{}, err
	}
	fast, err := t.Precession(fr)
	if err != nil {
		return Value{}, err
	}
	ratio := steady.Div(fast)
	ratio.Unit = ""
	return ratio.Sub(Exact(1, "")), nil
}

func fastTopExcess(ratio float64) float64 {
	x := math.Min(ratio*ratio, 1)
	if x < 1e-6 {
		return x / 4
	}
	return 2*(1-math.Sqrt(1-x))/x - 1
}

// torqueAndInertia returns m g l in N·m and I in kg·m².
func (t Top) torqueAndInertia() (torque, inertia Value, err error) {
	mass, err := positive("mass", t.Mass, "kg")
	if err != nil {
		return
	}
	arm, err := positive("arm", t.Arm, "m")
	if err != nil {
		return
	}
	if inertia, err = inertiaSI(t.Inertia); err != nil {
		return
	}
	return mass.Mul(arm).Scale(float64(StandardGravity), "N·m"), inertia, nil
}

func (t Top) acrossAndTilt() (across, tilt Value, err error) {
	if across, err = positive("transverse moment of inertia", t.Transverse, "kg·m²"); err != nil {
		return
	}
	tilt = t.Tilt
	if tilt.Unit == "" && tilt.X == 0 {
		tilt.Unit = "rad"
	}
	if tilt, err = tilt.To("rad"); err != nil {
		return across, tilt, fmt.Errorf("the tilt: %w", err)
	}
	if !(tilt.X >= 0 && tilt.X < math.Pi/2) {
		return across, tilt, optionError("a tilt of %v: it lies from 0 to below 90°, upright to lying", t.Tilt)
	}
	return across, tilt, nil
}
