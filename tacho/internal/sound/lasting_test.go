package sound

import (
	"math"
	"math/rand/v2"
	"testing"
)

// tones returns noise and lines at multiples of a rate, each of amplitude 0.2 times what
// level says at the time.
func tones(seconds, rate float64, lines []float64, seed uint64, level func(at float64) float64) []float64 {
	const fs = 8000.0
	r := rand.New(rand.NewPCG(seed, 11))
	x := make([]float64, int(seconds*fs))
	for i := range x {
		at := float64(i) / fs
		x[i] = 0.02 * r.NormFloat64()
		for _, m := range lines {
			x[i] += 0.2 * level(at) * math.Cos(2*math.Pi*m*rate*at+m*m)
		}
	}
	return x
}

// humOf returns the hum found in a sound, nil if there is none.
func humOf(t *testing.T, x []float64) *Hum {
	t.Helper()
	s, err := New(reader(x), []int{0}, len(x), 8000, 8000)
	if err != nil {
		t.Fatal(err)
	}
	h, err := s.FindHum()
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// A rotor that holds a rate of which lines of the supply are multiples for a part of the
// recording is no supply; one whose gain swings, or that drops out for a moment, is.
func TestHumLasts(t *testing.T) {
	for _, v := range []struct {
		name    string
		seconds float64
		level   func(at float64) float64
		hum     bool
	}{
		{"all the time", 1.5, func(float64) float64 { return 1 }, true},
		{"all the time", 7, func(float64) float64 { return 1 }, true},
		{"gain that swings by 10 dB", 6, func(at float64) float64 { return math.Pow(10, math.Sin(2*math.Pi*0.4*at)/4) }, true},
		{"a tenth of it drops out", 6, func(at float64) float64 {
			if at > 2 && at < 2.6 {
				return 0
			}
			return 1
		}, true},
		{"the second half", 7, func(at float64) float64 {
			if at < 3.4 {
				return 0
			}
			return 1
		}, false},
		{"the first three quarters", 1.4, func(at float64) float64 {
			if at > 1 {
				return 0
			}
			return 1
		}, false},
	} {
		if h := humOf(t, tones(v.seconds, 49.97, []float64{2, 4, 6, 8, 10}, 1, v.level)); (h != nil) != v.hum {
			t.Errorf("lines of the supply heard for %g s, %s: hum %+v, want one: %t", v.seconds, v.name, h, v.hum)
		}
	}
}

// A rotor that turns nearly with the supply has lines of its own beside that's, single
// ones as well.
func TestHumBesideARotor(t *testing.T) {
	always := func(float64) float64 { return 1 }
	for _, rate := range []float64{59.05, 60.95, 61.4} {
		x := tones(8, 60.01, []float64{1, 2, 3, 4, 6}, 2, always)
		for i, v := range tones(8, rate, []float64{1, 2, 3, 4, 5}, 3, always) {
			x[i] += v
		}
		if h := humOf(t, x); h == nil || math.Abs(h.Base-60.01) > 0.02 {
			t.Errorf("beside a rotor of %g Hz: hum %+v, want one of 60.01 Hz", rate, h)
		}
	}
}
