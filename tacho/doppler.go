package tacho

import (
	"fmt"
	"math"
)

// Doppler returns the tone, in hertz, at which a tone is heard while its source
// and the listener move along the line between them in still air, each with a
// speed that is above 0 towards the other:
//
//	f · (c + listener) / (c - source)
//
// c is the speed of sound, as [SpeedOfSound] gives it. A microphone that is carried
// towards a rotor at walking pace, 1.5 m/s, hears it 0.44 per cent too high: more
// than most intervals of a reading allow for. Across the line nothing changes.
//
// It returns ErrUnit if tone is not in hertz or a speed is none, and ErrOption if
// the tone is negative, c not positive, or either of them as fast as the sound.
//
// Source: W. Moebs, S. Ling, J. Sanny, University Physics 1 (OpenStax), 17.7.
func Doppler(tone, source, listener, c Value) (Value, error) {
	in, err := speeds(c, source, listener)
	if err != nil {
		return Value{}, err
	}
	if err := checkTone(tone); err != nil {
		return Value{}, err
	}
	if math.Abs(in[1].X) >= in[0].X || math.Abs(in[2].X) >= in[0].X {
		return Value{}, optionError("a source at %v and a listener at %v: slower than the sound at %v is needed", source, listener, c)
	}
	return Combine("Hz", func(x []float64) float64 { return x[0] * (x[1] + x[3]) / (x[1] - x[2]) }, append([]Value{tone}, in...)...), nil
}

// DopplerSpeed returns the speed, in m/s, at which a source of a tone comes
// towards a listener at rest who hears it as another; it is below 0 if the source
// goes away:
//
//	c · (1 - sent/heard)
//
// It returns ErrUnit if a tone is not in hertz or c is no speed, and ErrOption if
// one of them is not positive.
func DopplerSpeed(sent, heard, c Value) (Value, error) {
	in, err := speeds(c)
	if err != nil {
		return Value{}, err
	}
	for _, f := range []Value{sent, heard} {
		if err := checkTone(f); err != nil {
			return Value{}, err
		}
		if f.X == 0 {
			return Value{}, optionError("a tone of 0 Hz has no Doppler shift: give the tones that were sent and heard")
		}
	}
	return Combine("m/s", func(x []float64) float64 { return x[0] * (1 - x[1]/x[2]) }, in[0], sent, heard), nil
}

// PassBy returns what the tones of a source that passes by close to a listener at
// rest, one heard while it comes and one while it goes, say of it: its speed in m/s
// and the tone in hertz that it has at rest.
//
//	speed = c · (coming - going)/(coming + going)
//	tone  = 2 · coming · going/(coming + going)
//
// It returns ErrUnit and ErrOption as [DopplerSpeed], and ErrOption too if the
// tone rises on the way.
func PassBy(coming, going, c Value) (speed, tone Value, err error) {
	if speed, err = DopplerSpeed(coming, going, c); err != nil { // for its checks
		return Value{}, Value{}, err
	}
	if going.X > coming.X {
		return Value{}, Value{}, optionError("a tone that rises from %v to %v: what passes by sounds higher while it comes", coming, going)
	}
	in, _ := speeds(c)
	speed = Combine("m/s", func(x []float64) float64 { return x[0] * (x[1] - x[2]) / (x[1] + x[2]) }, in[0], coming, going)
	tone = Combine("Hz", func(x []float64) float64 { return 2 * x[0] * x[1] / (x[0] + x[1]) }, coming, going)
	return speed, tone, nil
}

// speeds returns c, which must be positive, and other speeds in m/s.
func speeds(c Value, others ...Value) ([]Value, error) {
	var out []Value
	for _, v := range append([]Value{c}, others...) {
		m, err := v.To("m/s")
		if err != nil {
			return nil, err
		}
		if math.IsNaN(m.X) || math.IsInf(m.X, 0) {
			return nil, optionError("a speed of %v: it must be finite", v)
		}
		out = append(out, m)
	}
	if !(out[0].X > 0) {
		return nil, optionError("a speed of sound of %v: it must be positive", c)
	}
	return out, nil
}

// checkTone refuses what is no tone.
func checkTone(f Value) error {
	if f.Unit != "Hz" {
		return fmt.Errorf("%w: a tone is given in Hz, not %q", ErrUnit, f.Unit)
	}
	if !(f.X >= 0) || math.IsInf(f.X, 0) {
		return optionError("a tone of %g Hz: it must be finite and not negative", f.X)
	}
	return nil
}
