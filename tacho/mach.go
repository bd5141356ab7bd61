package tacho

import (
	"fmt"
	"math"
)

// SpeedOfSound returns the speed of sound in air of temperature air, in °C, in
// metres per second:
//
//	c = 343.2 m/s · √(T / 293.15 K)
//
// The formula leaves out humidity and carbon dioxide, which change c by a few
// tenths of a per cent at room temperature; the result carries only the
// uncertainty of the temperature. It returns ErrUnit if air is not in °C and
// ErrOption if it lies outside -50 to 100 °C.
//
// Source: ISO 9613-1:1993.
func SpeedOfSound(air Value) (Value, error) {
	if air.Unit != "°C" {
		return Value{}, fmt.Errorf("%w: an air temperature in °C is needed, not %q", ErrUnit, air.Unit)
	}
	if !(air.X >= -50 && air.X <= 100) {
		return Value{}, optionError("an air temperature of %g °C: it must lie from -50 to 100 °C", air.X)
	}
	return Combine("m/s", func(in []float64) float64 {
		return 343.2 * math.Sqrt((in[0]+273.15)/293.15)
	}, air), nil
}

// TipMach returns the tip speed as a multiple of the speed of sound in air of
// temperature air, in °C. It has no unit. x is a tone or a shaft speed as for
// [Rotor.Speed]; the errors are those of [Rotor.TipSpeed] and [SpeedOfSound].
func (r Rotor) TipMach(x, air Value) (Value, error) {
	v, err := r.TipSpeed(x)
	if err != nil {
		return Value{}, err
	}
	c, err := SpeedOfSound(air)
	if err != nil {
		return Value{}, err
	}
	return v.Div(c).As(""), nil
}
