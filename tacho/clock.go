package tacho

// ClockError returns how much too fast a recorder's clock runs, in ppm, from a
// tone whose true frequency is known and that the recording shows as heard: a
// clock that is fast takes too many samples, and every tone seems low by as much.
//
//	(sent/heard - 1) · 10⁶
//
// heard is best read from a long, steady recording by [Spectrum.Peaks]; a stack of
// harmonics is no better here.
//
// Tones to be had: the 500 and 600 Hz that the time signal station WWV sends in
// turns and its 440 Hz once an hour (exact as sent, NIST; the waves on their way
// add some parts in ten million, common practice), or a tone that a computer
// makes, as good as its own clock. A reading is corrected by
// multiplying with 1 + error/10⁶, and Options.ClockPPM is then the uncertainty of
// the error found.
//
// The part of heard that is called "clock" is what is being measured: it is left
// out. ClockError returns ErrUnit if a tone is not in hertz and ErrOption if one is
// not positive.
func ClockError(heard, sent Value) (Value, error) {
	for _, f := range []Value{heard, sent} {
		if err := checkTone(f); err != nil {
			return Value{}, err
		}
		if f.X == 0 {
			return Value{}, optionError("a tone of 0 Hz tells nothing of a clock")
		}
	}
	own := Value{X: heard.X, Unit: heard.Unit}
	for _, p := range heard.Parts {
		if p.Name != "clock" {
			own.Parts = append(own.Parts, p)
		}
	}
	return Combine("ppm", func(x []float64) float64 { return (x[1]/x[0] - 1) * 1e6 }, own, sent), nil
}
