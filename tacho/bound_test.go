package tacho_test

import (
	"errors"
	"math"
	"testing"

	"rotorhum/tacho"
)

// The closed forms beside the inverse of the Fisher information matrix of the
// signal itself, computed independently (NumPy 1.24, tones away from 0 and fs/2);
// they differ by the terms that the closed form neglects.
func TestBounds(t *testing.T) {
	for _, c := range []struct {
		name       string
		amplitudes []float64
		noise, fs  float64
		n          int
		closed     float64
		fisher     float64
		percent    float64
	}{
		{"3000.3 Hz, 0.1 s", []float64{1}, 1, 48000, 4800, 0.11253954196190266, 0.11254593138018083, 0.5},
		// short and low: here the neglected terms are 0.8 %
		{"1234.5 Hz, 21 ms", []float64{1}, 1, 48000, 1000, 1.1834971243467898, 1.1742432724774334, 1},
		{"2500.2157 Hz, 1 s", []float64{1}, 1, 48000, 48000, 0.003558812717858197, 0.0035585572413657012, 0.5},
		{"440 Hz, 0.5 s", []float64{0.5}, 0.5, 48000, 24000, 0.010065842429635118, 0.010065853916609689, 0.5},
		{"997.3 Hz alone", []float64{1}, 1, 48000, 4800, 0.11253954196190266, 0.11231889515665841, 1},
		{"997.3 Hz, three harmonics", []float64{1, 0.5, 0.25}, 1, 48000, 4800, 0.0703028945176439, 0.07031275192821375, 1},
		{"997.3 Hz, five harmonics", []float64{1, 1, 1, 1, 1}, 1, 48000, 4800, 0.015174828742478205, 0.015247840359280196, 1},
		{"400.7 Hz, four harmonics", []float64{0.3, 0.8, 0.2, 0.1}, 0.5, 48000, 9600, 0.011173790280924937, 0.011136720804437953, 1},
	} {
		got, err := tacho.StackBound(c.amplitudes, c.noise, c.fs, c.n)
		if err != nil || math.Abs(float64(got)/c.closed-1) > 1e-9 {
			t.Errorf("%s: bound %g Hz, %v; want %g Hz", c.name, float64(got), err, c.closed)
		}
		if math.Abs(float64(got)/c.fisher-1) > c.percent/100 {
			t.Errorf("%s: bound %g Hz, the Fisher matrix gives %g Hz", c.name, float64(got), c.fisher)
		}
	}
	one, _ := tacho.ToneBound(1, 1, 48000, 4800)
	if stack, _ := tacho.StackBound([]float64{1}, 1, 48000, 4800); one != stack {
		t.Errorf("a stack of one line is bounded by %v, a tone by %v", stack, one)
	}
}

func TestBoundsRefuse(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for name, f := range map[string]func() (tacho.Hertz, error){
		"no tone":            func() (tacho.Hertz, error) { return tacho.ToneBound(0, 1, 8000, 100) },
		"negative amplitude": func() (tacho.Hertz, error) { return tacho.StackBound([]float64{1, -1}, 1, 8000, 100) },
		"no amplitudes":      func() (tacho.Hertz, error) { return tacho.StackBound(nil, 1, 8000, 100) },
		"NaN amplitude":      func() (tacho.Hertz, error) { return tacho.ToneBound(nan, 1, 8000, 100) },
		"huge amplitude":     func() (tacho.Hertz, error) { return tacho.ToneBound(1e200, 1, 8000, 100) },
		"negative noise":     func() (tacho.Hertz, error) { return tacho.ToneBound(1, -1, 8000, 100) },
		"infinite noise":     func() (tacho.Hertz, error) { return tacho.ToneBound(1, inf, 8000, 100) },
		"rate 0":             func() (tacho.Hertz, error) { return tacho.ToneBound(1, 1, 0, 100) },
		"two samples":        func() (tacho.Hertz, error) { return tacho.ToneBound(1, 1, 8000, 2) },
	} {
		if got, err := f(); !errors.Is(err, tacho.ErrOption) {
			t.Errorf("%s: %v, %v; want %v", name, got, err, tacho.ErrOption)
		}
	}
}
