package live

import (
	"math"
	"testing"

	"rotorhum/tacho/synth"
)

// climb feeds a summit a run at rates hz(t), a step each, known to u.
func climb(s *summit, run int, from, to float64, hz func(t float64) float64, u float64) {
	src := synth.Source(uint64(run))
	for t := from; t < to; t += Step {
		p := point{t, hz(t) + u*src.NormFloat64(), u}
		s.see(state{heard: true, run: run, factor: 1, settled: []point{p}, tail: []point{p}})
	}
}

// The highest of many noisy points on a plateau lies some three uncertainties too
// high; the summit does not.
func TestSummitOfAPlateau(t *testing.T) {
	s := &summit{}
	s.opt.Pulses = 1
	climb(s, 1, 0, 60, func(float64) float64 { return 200 }, 0.5)
	h, ok := s.highest()
	if lo, hi := h.Tone.CI95(); !ok || lo > 200 || hi < 200 {
		t.Errorf("the top of 200 Hz known to 0.5 is %v", h.Tone)
	}
	if n := len(s.now.points); n > crestPoints {
		t.Errorf("%d points are kept, at most %d wanted", n, crestPoints)
	}
}

func TestSummitKnowsWhen(t *testing.T) {
	s := &summit{}
	s.opt.Pulses = 4
	climb(s, 1, 0, 8, func(t float64) float64 { return 300 - 10*(t-5)*(t-5) }, 0.05)
	climb(s, 2, 9, 12, func(t float64) float64 { return 250 }, 0.05)
	h, ok := s.highest()
	if !ok || math.Abs(h.T-5) > 0.1 || math.Abs(h.Tone.X-300) > 0.15 || math.Abs(h.Speed.X-75) > 0.04 {
		t.Errorf("highest %v at %.2f s, want 75 rev/s at 5", h.Speed, h.T)
	}
}

// What is claimed for a moment only, or hardly known, is no peak.
func TestSummitIsNotFooledByOutliers(t *testing.T) {
	s := &summit{}
	s.opt.Pulses = 1
	climb(s, 1, 0, 3, func(float64) float64 { return 100 }, 0.05)
	climb(s, 2, 3, 3.2, func(float64) float64 { return 400 }, 0.05) // a few readings
	climb(s, 3, 3.2, 6, func(float64) float64 { return 100 }, 0.05)
	s.see(state{heard: true, run: 3, factor: 1, settled: []point{{6, 180, 20}}})
	if h, ok := s.highest(); !ok || math.Abs(h.Tone.X-100) > 0.2 {
		t.Errorf("highest %v, want 100 Hz", h.Tone)
	}
}

// When another multiple comes to be seen as right, what was told before counts as
// that multiple.
func TestSummitFollowsTheMultiple(t *testing.T) {
	s := &summit{}
	s.opt.Pulses = 1
	climb(s, 1, 0, 2, func(float64) float64 { return 100 }, 0.05)
	s.see(state{heard: true, run: 1, factor: 0.5, settled: []point{{2, 49, 0.05}}})
	if h, ok := s.highest(); !ok || math.Abs(h.Tone.X-50) > 0.1 {
		t.Errorf("highest %v, want 50 Hz", h.Tone)
	}
	if _, ok := (&summit{}).highest(); ok {
		t.Error("a peak of nothing")
	}
}

// A sine of amplitude 1/2 has an RMS level of -6 dB relative to one of full scale.
func TestLevels(t *testing.T) {
	x := synth.ToneAt(440, 0.5, 0, 48000, 4800)
	if l, p, c := levels(x); math.Abs(l+6.02) > 0.01 || math.Abs(p+6.02) > 0.01 || c {
		t.Errorf("a sine of 1/2: %.2f dB, peak %.2f dB, clipped %v", l, p, c)
	}
	// 20 Hz in 16 bits stands still at its crests, but is not clipped
	slow := synth.ToneAt(20, 0.5, 0, 48000, 4800)
	synth.Quantise(slow, 16)
	if _, _, c := levels(slow); c {
		t.Error("20 Hz in 16 bits counts as clipped")
	}
	for _, top := range []float64{1, 0.6} {
		cut := synth.ToneAt(440, 0.9, 0, 48000, 4800)
		for i, v := range cut {
			cut[i] = top / 0.7 * math.Max(-0.7, math.Min(0.7, v))
		}
		if _, _, c := levels(cut); !c {
			t.Errorf("flat tops at %g do not count as clipped", top)
		}
	}
	if l, p, c := levels(nil); !math.IsInf(l, -1) || !math.IsInf(p, -1) || c {
		t.Errorf("nothing: %v, %v, %v", l, p, c)
	}
}

// A tune goes up and down in steps; a rotor that is pushed and coasts does not.
func TestTune(t *testing.T) {
	var s steps
	for i, hz := range []float64{262, 330, 294} {
		s.begins(float64(i), hz)
		s.left(float64(i)+0.9, hz)
	}
	if !s.tune(3) {
		t.Error("three notes, up and down, are no tune")
	}
	if s.tune(3 + tuneSeconds + 1) {
		t.Error("a tune is remembered for too long")
	}
	s = steps{}
	for i, hz := range []float64{100, 150, 200.5, 401} { // pushed twice, and a multiple
		s.begins(float64(i), hz)
		s.left(float64(i)+0.9, hz)
	}
	if s.tune(4) {
		t.Error("a rotor that is pushed again and again is a tune")
	}
}
