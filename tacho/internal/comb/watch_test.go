package comb

import (
	"math"
	"testing"
)

// What is seen a few moments at a time is what is seen in one go, but for the
// floor, which is known less well from fewer frames.
func TestWatchSeesWhatAnalyseDoes(t *testing.T) {
	const fs = 16000.0
	rate := func(t float64) float64 { return 70 * math.Exp(0.6*t) }
	src := source(t, fs, hum(8, int(1.5*fs), fs, rate, []float64{0.6, 0.5, 0.4, 0.3}))
	opt := FrameOptions{Lo: 20, Hi: 2000, Hop: 0.025, Harmonics: 12, Keep: 24}
	all, err := Analyse(src, opt)
	if err != nil {
		t.Fatal(err)
	}
	w := NewWatch(fs, opt)
	for first := 12; first+2 < 48; first += 2 {
		got, err := w.Moments(src, first, 2)
		if err != nil || len(got) != 2 {
			t.Fatalf("%d moments, %v; want 2", len(got), err)
		}
		for i, m := range got {
			want := all.Moments[first+i]
			if len(m.States) == 0 {
				t.Fatalf("no candidates at moment %d", first+i)
			}
			if a, b := m.States[0], want.States[0]; math.Abs(a.Rate/b.Rate-1) > 0.005 || math.Abs(a.Evidence-b.Evidence) > 0.3*b.Evidence {
				t.Errorf("moment %d: %+v, in one go %+v", first+i, a, b)
			}
		}
	}
}
