package comb

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// A rate that changes evenly and is a candidate of little evidence in half of the moments
// lasts; what has five times its evidence for a fifth of a second, and then is
// elsewhere, does not. Against the truth of made-up candidates.
func TestWhatGoesOnOutlastsWhatIsLouder(t *testing.T) {
	const hop, n = 0.02, 200
	r := rand.New(rand.NewPCG(3, 4))
	rotor := func(i int) float64 { return 80 * math.Exp(-0.2*hop*float64(i)) }
	f := &Frames{Hop: hop, Moments: make([]Moment, n)}
	voice, slope := 0.0, 0.0
	for i := range f.Moments {
		if i%10 == 0 {
			voice, slope = 150+100*r.Float64(), 3*r.Float64()-1.5
		}
		voice *= math.Exp(slope * hop)
		s := []State{{Rate: voice, Slope: slope, Evidence: 12}}
		if r.IntN(2) == 0 {
			s = append(s, State{Rate: rotor(i) * (1 + 0.001*r.NormFloat64()), Slope: -0.12, Evidence: 2.5})
		}
		for range 8 {
			s = append(s, State{Rate: 30 * math.Exp(3*r.Float64()), Slope: 2*r.Float64() - 1, Evidence: 2 * r.Float64()})
		}
		f.Moments[i].States = s
	}
	long, err := f.Lasting(func() error { return nil })
	if err != nil {
		t.Fatal(err)
	}
	called := errors.New("called off")
	if _, err := f.Lasting(func() error { return called }); err != called {
		t.Errorf("called off: %v", err)
	}
	if want := (n + LastingEvery - 1) / LastingEvery; len(long.Moments) != want || long.Hop != LastingEvery*hop {
		t.Fatalf("%d moments %v s apart, want %d", len(long.Moments), long.Hop, want)
	}
	heard, right, slopes := 0, 0, 0.0
	for i, m := range long.Moments {
		var best State
		there := false
		for _, s := range m.States {
			is := math.Abs(s.Rate/rotor(LastingEvery*i)-1) < 0.01
			there = there || is
			if s.Evidence > best.Evidence {
				best = s
			}
		}
		if !there {
			continue
		}
		heard++
		if math.Abs(best.Rate/rotor(LastingEvery*i)-1) < 0.01 {
			right++
			slopes += best.Slope
		}
	}
	if heard < 40 || right < heard*9/10 {
		t.Errorf("the rotor leads at %d of the %d moments at which it is a candidate", right, heard)
	}
	if mean := slopes / float64(right); math.Abs(mean+0.2) > 0.02 {
		t.Errorf("its slope is %.3f per second, want -0.2", mean)
	}
}
