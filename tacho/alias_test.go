package tacho

import (
	"math"
	"testing"

	"rotorhum/tacho/synth"
)

func TestAlias(t *testing.T) {
	for _, c := range []struct{ f, fs, want Hertz }{
		{0, 8000, 0}, {440, 8000, 440}, {4000, 8000, 4000}, {4001, 8000, 3999}, {6500, 8000, 1500},
		{8000, 8000, 0}, {9500, 8000, 1500}, {12000, 8000, 4000}, {17000, 8000, 1000}, {-440, 8000, 440},
		{1477, 2400, 923}, {1633, 2400, 767}, // the ITU-T Q.23 column tones at 2400 samples per second
	} {
		if got := Alias(c.f, c.fs); math.Abs(float64(got-c.want)) > 1e-9 {
			t.Errorf("Alias(%v, %v) = %v, want %v", c.f, c.fs, got, c.want)
		}
	}
	nan, inf := Hertz(math.NaN()), Hertz(math.Inf(1))
	for _, c := range [][2]Hertz{{nan, 8000}, {inf, 8000}, {440, 0}, {440, -1}, {440, nan}, {440, inf}} {
		if got := Alias(c[0], c[1]); !math.IsNaN(float64(got)) {
			t.Errorf("Alias(%v, %v) = %v, want NaN", c[0], c[1], got)
		}
	}
}

// A tone and its alias have the same samples: that is what an alias is.
func TestAliasHasTheSameSamples(t *testing.T) {
	const fs, n = 8000.0, 400
	const rounding = 1e-9 // of cosines of arguments of a few thousand radians
	for _, f := range []float64{4001, 5200, 7999, 8000, 9123.5, 25000} {
		a, b := synth.Tone(f, fs, n), synth.Tone(float64(Alias(Hertz(f), fs)), fs, n)
		for i := range a {
			if math.Abs(a[i]-b[i]) > rounding {
				t.Fatalf("sample %d of a tone at %g Hz is %g, that of its alias %g", i, f, a[i], b[i])
			}
		}
	}
}
