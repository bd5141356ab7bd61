package tacho

import (
	"fmt"
	"math"
)

// Strobe returns the speed, in rev/s, at which the rotor seems to turn under a
// lamp that flashes, or in a film that takes pictures, at the rate flashes in Hz;
// below 0 it seems to turn backwards. A wheel with z = r.Pulses equal spokes looks
// alike after every 1/z of a turn, so
//
//	fr - (flashes/z)·round(fr·z/flashes)
//
// which lies within half of flashes/z on either side of 0. At 0 the wheel seems to
// stand still: it turns at one of the speeds k·flashes/z, and the flashes do not
// say which. Halfway it may seem to turn either way.
//
// x is a tone or a shaft speed as for [Rotor.Speed]. Strobe returns ErrPulses if
// r.Pulses is less than 1, ErrUnit if flashes is not in Hz, ErrOption if it is not
// positive and finite, and the errors of Speed.
func (r Rotor) Strobe(x, flashes Value) (Value, error) {
	if err := r.checkPulses(); err != nil {
		return Value{}, err
	}
	fr, err := r.Speed(x)
	if err != nil {
		return Value{}, err
	}
	if flashes.Unit != "Hz" {
		return Value{}, fmt.Errorf("%w: flashes per second are given in Hz, not %q", ErrUnit, flashes.Unit)
	}
	if !(flashes.X > 0) || math.IsInf(flashes.X, 0) {
		return Value{}, optionError("flashes at a rate of %g Hz: it must be positive and finite", flashes.X)
	}
	alike := flashes.Scale(1/float64(r.Pulses), "rev/s")
	return fr.Sub(alike.Scale(math.Round(fr.X/alike.X), "rev/s")), nil
}
