package tacho

import (
	"math"
	"testing"

	"rotorhum/tacho/synth"
)

// A steady tone's line is as wide as the window makes it, wherever the tone lies
// between two bins.
func TestLineWidthOfASteadyTone(t *testing.T) {
	const fs, n = 8000.0, 1600
	for _, w := range []Window{Hann, Blackman, BlackmanHarris, FlatTop} {
		for _, f := range []float64{1000, 1001.7, 2002.5} {
			s, err := NewSpectrum(synth.Tone(f, fs, n), fs, SpectrumOptions{Window: w, FFTLen: 65536})
			if err != nil {
				t.Fatal(err)
			}
			const joined = 2e-3 // relative: straight lines between bins a fortieth of the width apart
			near(t, w.Name(), float64(s.LineWidth(s.Bin(Hertz(f)))), float64(s.Resolution()), joined)
		}
	}
}

// The line of a quick chirp has the shape of the window itself: with Hann its half
// power lies where cos⁴ is a half, 0.36405 of the way that the tone goes.
func TestLineWidthOfAChirp(t *testing.T) {
	const fs, n, rate = 48000.0, 48000, 4000.0 // 1 s, 4000 Hz/s
	s, err := NewSpectrum(synth.Chirp(8000, 8000+rate, fs, n), fs, SpectrumOptions{})
	if err != nil {
		t.Fatal(err)
	}
	want := rate * 2 / math.Pi * math.Acos(math.Pow(0.5, 0.25))
	const ripple = 0.01 // of a transform that stationary phase only approximates
	near(t, "width", float64(s.LineWidth(s.Bin(8000+rate/2))), want, ripple)
}

func TestLineWidthAtTheEdge(t *testing.T) {
	s, err := NewSpectrum(synth.Tone(0, 8000, 1000), 8000, SpectrumOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if w := s.LineWidth(0); !math.IsNaN(float64(w)) {
		t.Errorf("the line of the mean, cut by the edge, is %v wide; want NaN", w)
	}
	s, err = NewSpectrum(make([]float64, 1000), 8000, SpectrumOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if w := s.LineWidth(100); !math.IsNaN(float64(w)) {
		t.Errorf("a line of silence is %v wide; want NaN", w)
	}
}
