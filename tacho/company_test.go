package tacho

import (
	"math"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/comb"
	"rotorhum/tacho/internal/path"
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

// What goes on for long is worth looking for however little each of its moments says, if
// it is more than a course pays for a moment (path.Rules): in two seconds at nearly twice
// that 100 nats are gathered. What says less than it costs is not.
func TestWhatGoesOnIsUnexplained(t *testing.T) {
	const fs = 8000.0
	r := rand.New(rand.NewPCG(3, 4))
	x := make([]float64, int(2*fs))
	for i := range x {
		x[i] = r.NormFloat64()
	}
	src := sampled(t, fs, x)
	idle := path.Usual(frameHop).Idle
	for _, c := range []struct {
		says float64 // in units of what a moment costs
		want bool
	}{{1.99, true}, {0.95, false}} {
		frames := &comb.Frames{Hop: frameHop, Moments: make([]comb.Moment, 99)}
		for i := range frames.Moments {
			frames.Moments[i].States = []comb.State{{Rate: 443, Evidence: 5 * idle}, {Rate: 35.3, Evidence: c.says * idle}}
		}
		if got, err := (&finder{src: src}).unexplained(frames, []*stretch{turning(443)}); err != nil || got != c.want {
			t.Errorf("%g times the cost: unexplained %t (%v), want %t", c.says, got, err, c.want)
		}
	}
}
