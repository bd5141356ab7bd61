package tacho

import (
	"math"
)

// Plan says what a recording can tell before it is made: how long it must be for
// a wanted uncertainty, from the Cramér-Rao bounds of a steady hum in white
// noise. A real recording does somewhat worse; none does better.
type Plan struct {
	// Tone is the pulse rate to expect.
	Tone Hertz
	// Amplitudes are the amplitudes of its harmonics m = 1, 2, …; only their
	// ratios matter.
	Amplitudes []float64
	// SNR is the power of all lines over that of the noise from 0 to Rate/2, in
	// dB, and Rate the sample rate in hertz.
	SNR, Rate float64
	// ClockPPM is the standard uncertainty of the recorder's clock as in Options.
	ClockPPM float64
}

// PlanFrom makes a plan from a short trial recording: the lines of its family,
// found at sample rate fs, and the noise that its uncertainty speaks of. It
// returns ErrOption if the family has no lines at whole multiples or no
// uncertainty.
func PlanFrom(family *Family, fs float64) (Plan, error) {
	p := Plan{Rate: fs}
	if family == nil {
		return p, optionError("a plan from no family: find one in a trial recording first")
	}
	p.Tone = Hertz(family.Tone.X)
	for _, l := range family.Lines {
		if m := int(math.Round(l.M)); m >= 1 && m <= 1000 && math.Abs(l.M-float64(m)) < 1e-6 {
			for len(p.Amplitudes) < m {
				p.Amplitudes = append(p.Amplitudes, 0)
			}
			p.Amplitudes[m-1] = l.Amp
		}
	}
	u := contribution(family.Tone, "tone")
	if len(p.Amplitudes) == 0 || !(u > 0) {
		return p, optionError("the trial shows no lines with an uncertainty: make another")
	}
	bound, err := p.noiseBound(family.Seconds)
	if err != nil {
		return p, err
	}
	p.SNR = -20 * math.Log10(u/bound)
	return p, nil
}

// At returns the plan for another sample rate in the same room: as much noise in
// each hertz, and without the harmonics at or above half the rate.
func (p Plan) At(rate float64) Plan {
	kept := []float64{}
	all, left := 0.0, 0.0
	for i, a := range p.Amplitudes {
		all += a * a
		if float64(i+1)*float64(p.Tone) < rate/2 {
			kept = append(kept, a)
			left += a * a
		}
	}
	p.SNR += 10*math.Log10(left/all) - 10*math.Log10(rate/p.Rate)
	p.Amplitudes, p.Rate = kept, rate
	return p
}

// Uncertainty returns the pulse rate with the uncertainty to expect of a
// recording of so many seconds: "noise", which falls with the length to the power
// of 1.5, and "clock", which does not.
//
// It returns ErrOption if the plan or the length makes no sense.
func (p Plan) Uncertainty(seconds float64) (Value, error) {
	u, err := p.noiseBound(seconds)
	if err != nil {
		return Value{}, err
	}
	u *= math.Pow(10, -p.SNR/20)
	v := Measured(float64(p.Tone), u, "Hz", "noise")
	if c := p.clock(); c > 0 {
		v.Parts = append(v.Parts, Part{Name: "clock", U: c})
	}
	return v, nil
}

// Seconds returns how long the recording must be for a standard uncertainty u,
// in hertz, of the pulse rate. It returns ErrOption if the clock alone is worse
// than that.
func (p Plan) Seconds(u Hertz) (Second, error) {
	one, err := p.noiseBound(1)
	if err != nil {
		return 0, err
	}
	noise := math.Sqrt(float64(u)*float64(u) - p.clock()*p.clock())
	if !(u > 0) || !(noise > 0) {
		return 0, optionError("%v of %v cannot be reached: the recorder's clock alone is uncertain by %.3g Hz; compare it with a better one first",
			u, p.Tone, p.clock())
	}
	return Second(math.Pow(one*math.Pow(10, -p.SNR/20)/noise, 2./3)), nil
}

// SlopeUncertainty returns the smallest standard uncertainty, in Hz/s, with which
// a recording of so many seconds tells how fast the pulse rate changes, from the
// bound of a linear chirp
//
//	u(r) ≥ √360 · noise · fs² / (π √(n(n²-1)(n²-4) Σ m²A(m)²))
//
// Source: P. M. Djurić and S. M. Kay 1990.
func (p Plan) SlopeUncertainty(seconds float64) (Value, error) {
	u, err := p.noiseBound(seconds)
	if err != nil {
		return Value{}, err
	}
	n := math.Round(seconds * p.Rate)
	u *= math.Pow(10, -p.SNR/20) * math.Sqrt(360./24) * 2 * p.Rate / math.Sqrt(n*n-4)
	return Measured(0, u, "Hz/s", "noise"), nil
}

// LeastRate returns the sample rate at which every harmonic of the plan is kept,
// with a tenth to spare for the filter in front of the samples.
func (p Plan) LeastRate() Hertz { return 2.2 * p.Tone * Hertz(len(p.Amplitudes)) }

func (p Plan) clock() float64 {
	switch {
	case p.ClockPPM < 0:
		return 0
	case p.ClockPPM == 0:
		return DefaultClockPPM * 1e-6 * float64(p.Tone)
	}
	return p.ClockPPM * 1e-6 * float64(p.Tone)
}

// noiseBound is StackBound for an SNR of 0 dB.
func (p Plan) noiseBound(seconds float64) (float64, error) {
	if !(p.Tone > 0) || !(p.Rate > 0) || !(seconds > 0) || !(seconds < 1e6) || math.IsNaN(p.SNR) {
		return 0, optionError("a plan for %v at %g samples per second over %g s: all must be above zero", p.Tone, p.Rate, seconds)
	}
	power := 0.0
	for i, a := range p.Amplitudes {
		if float64(i+1)*float64(p.Tone) >= p.Rate/2 && a != 0 {
			return 0, optionError("harmonic %d of %v lies above half the sample rate of %g Hz: see Plan.At", i+1, p.Tone, p.Rate)
		}
		power += a * a / 2
	}
	u, err := StackBound(p.Amplitudes, math.Sqrt(power), p.Rate, int(math.Round(seconds*p.Rate)))
	return float64(u), err
}
