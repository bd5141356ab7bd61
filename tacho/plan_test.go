package tacho

import (
	"errors"
	"math"
	"testing"
)

// The numbers are the bounds of Rife and Boorstyn 1974, Christensen and Jakobsson
// 2009 and Djurić and Kay 1990, whose inverse Fisher matrices were computed
// separately: 48 kHz, 4800 samples, amplitude and noise 1.
func TestPlanAgainstBounds(t *testing.T) {
	one := Plan{Tone: 1000, Amplitudes: []float64{1}, SNR: 10 * math.Log10(0.5), Rate: 48000, ClockPPM: -1}
	closeTo(t, "tone", must1(one.Uncertainty(0.1)).U(), 0.1125459, 0.005)
	closeTo(t, "slope", must1(one.SlopeUncertainty(0.1)).U(), 8.71704, 0.005)
	// 24 000 samples with half the noise: the slope of a chirp is known to 0.0779684
	// Hz/s; 2000 or 20 000 Hz/s makes no difference to the first.
	quiet := Plan{Tone: 5000, Amplitudes: []float64{1}, SNR: 10 * math.Log10(2), Rate: 48000, ClockPPM: -1}
	closeTo(t, "slope of 24 000 samples", must1(quiet.SlopeUncertainty(0.5)).U(), 0.0779684236023473, 0.005)
	closeTo(t, "tone of 24 000 samples", must1(quiet.Uncertainty(0.5)).U(), 0.005032872694813976, 0.005)
	stack := Plan{Tone: 1000, Amplitudes: []float64{1, 0.5, 0.25}, SNR: 10 * math.Log10((1+0.25+0.0625)/2), Rate: 48000, ClockPPM: -1}
	closeTo(t, "stack", must1(stack.Uncertainty(0.1)).U(), 0.0703128, 0.01)
	s, err := stack.Seconds(0.001)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "there and back", must1(stack.Uncertainty(float64(s))).U(), 0.001, 1e-4)
	// As much noise in each hertz: the rate does not matter while all lines stay.
	closeTo(t, "half the rate", must1(stack.At(24000).Uncertainty(0.1)).U(), must1(stack.Uncertainty(0.1)).U(), 1e-3)
	if a, b := must1(stack.At(5000).Uncertainty(0.1)).U(), must1(stack.Uncertainty(0.1)).U(); a < 1.05*b {
		t.Errorf("without the third line %v, with it %v: a line lost must cost", a, b)
	}
	stack.ClockPPM = 30
	if _, err := stack.Seconds(0.02); !errors.Is(err, ErrOption) {
		t.Errorf("finer than the clock: %v", err)
	}
	if _, err := stack.Uncertainty(-1); !errors.Is(err, ErrOption) {
		t.Errorf("negative length: %v", err)
	}
}

// A plan from a family must give back the family's own uncertainty.
func TestPlanFromFamily(t *testing.T) {
	f := &Family{Seconds: 0.5, Tone: Value{X: 100, Unit: "Hz", Parts: []Part{{Name: "tone", U: 0.02}, {Name: "clock", U: 0.003}}},
		Lines: []Harmonic{{M: 1, Amp: 0.1}, {M: 1.2, Amp: 0.01}, {M: 3, Amp: 0.05}}}
	p, err := PlanFrom(f, 44100)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "u", contribution(must1(p.Uncertainty(0.5)), "noise"), 0.02, 1e-9)
	closeTo(t, "twice as long", contribution(must1(p.Uncertainty(1)), "noise"), 0.02/math.Pow(2, 1.5), 1e-6)
	if _, err := PlanFrom(&Family{}, 44100); !errors.Is(err, ErrOption) {
		t.Errorf("no lines: %v", err)
	}
}
