package tacho

import (
	"fmt"
	"math"
)

// RingStress returns the hoop stress in a thin ring that spins with its rim at
// the tip radius of r, in pascal:
//
//	σ = ρ v²
//
// with ρ the density of the material, in kg/m³ or any other unit of density, and
// v the tip speed. x is a tone
// or a shaft speed as for [Rotor.Speed]; the errors are those of
// [Rotor.TipSpeed], and ErrUnit if density is something else.
//
// A real rotor has spokes, holes, flaws and fatigue, and breaks earlier than
// this says. The number helps to see how fast the load grows with speed; it is
// no proof that a rotor is safe.
//
// Source: J. Carvill, Mechanical Engineer's Data Handbook, section 1.2.7.
func (r Rotor) RingStress(x, density Value) (Value, error) {
	v, err := r.TipSpeed(x)
	if err != nil {
		return Value{}, err
	}
	density, err = density.To("kg/m³")
	if err != nil {
		return Value{}, fmt.Errorf("the density: %w", err)
	}
	if !(density.X > 0) || math.IsInf(density.X, 0) {
		return Value{}, optionError("a density of %g kg/m³: it must be finite and more than 0", density.X)
	}
	return density.Mul(v).Mul(v).As("Pa"), nil
}

// DiscStress returns the largest stress in a solid disc of even thickness
// whose rim is at the tip radius of r, in pascal. It lies at the centre:
//
//	σ = ρ v² (3 + ν)/8
//
// with ν Poisson's ratio, a number without unit from 0 to 0.5. Everything else
// is as for [Rotor.RingStress], the warning too: a hole in the middle, however
// small, doubles the stress.
//
// Source: J. Carvill, Mechanical Engineer's Data Handbook, section 1.2.7.
func (r Rotor) DiscStress(x, density, poisson Value) (Value, error) {
	ring, err := r.RingStress(x, density)
	if err != nil {
		return Value{}, err
	}
	if poisson.Unit != "" {
		return Value{}, fmt.Errorf("%w: Poisson's ratio has no unit, not %q", ErrUnit, poisson.Unit)
	}
	if !(poisson.X >= 0 && poisson.X <= 0.5) {
		return Value{}, optionError("Poisson's ratio of %g: it lies from 0 to 0.5", poisson.X)
	}
	return Combine("Pa", func(in []float64) float64 { return in[0] * (3 + in[1]) / 8 }, ring, poisson), nil
}
