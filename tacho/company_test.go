package tacho

import (
	"math"
	"testing"
)

// What a room holds of a rotor lags behind its rate and sways about it; another rotor
// crosses it, or runs elsewhere.
func TestWhatRingsOnIsNoCompany(t *testing.T) {
	rotor := func(at float64) float64 { return 0.6 * math.Exp(-0.3*at) }
	in := []*stretch{moving(rotor)}
	for _, c := range []struct {
		name string
		log  func(at float64) float64
		want bool
	}{
		{"a room", func(at float64) float64 { return rotor(at-0.1) + 0.008*math.Sin(5*at) }, true},
		{"a rotor that crosses it", func(at float64) float64 { return 0.06 * at }, false},
		{"a rotor a quarter faster", func(at float64) float64 { return rotor(at) + math.Log(1.25) }, false},
		{"a rotor at its octave", func(at float64) float64 { return rotor(at) + math.Ln2 }, false},
	} {
		if got := moving(c.log).rings(in); got != c.want {
			t.Errorf("%s: rings %t, want %t", c.name, got, c.want)
		}
	}
}
