package tacho

import (
	"math"
	"testing"

	"rotorhum/tacho/internal/comb"
	"rotorhum/tacho/internal/path"
	"rotorhum/tacho/internal/phase"
)

// moving is a stretch of ten seconds whose rate follows the given logarithm.
func moving(log func(t float64) float64) *stretch { return movingIn(0.02, log) }

// movingIn is moving, seen in blocks of so many seconds.
func movingIn(length float64, log func(t float64) float64) *stretch {
	s := &stretch{fit: &phase.Result{}}
	for t := 0.0; t < 10; t += length / 2 {
		s.fit.Blocks = append(s.fit.Blocks, phase.Block{T: t, Length: length})
		s.fit.Motion = append(s.fit.Motion, phase.Smooth{Omega: 1000 * math.Exp(log(t))})
		s.fit.SNR = append(s.fit.SNR, 1)
	}
	return s
}

func TestStepsOfTunesAndNotOfSwings(t *testing.T) {
	for _, rate := range []float64{0.3, 0.8, 1.2, 1.5, 1.8, 2, 2.5, 4, 8} {
		for _, depth := range []float64{0.01, 0.05, 0.08} {
			swing := func(t float64) float64 { return depth * math.Sin(2*math.Pi*rate*t) }
			for _, block := range []float64{0.02, 0.06} {
				if n := movingIn(block, swing).steps(); n > 0 {
					t.Errorf("a swing of %g at %g Hz, in blocks of %g s: %d steps, want none", depth, rate, block, n)
				}
			}
			if tune([]*stretch{moving(swing)}, nil, 1) {
				t.Errorf("a swing of %g at %g Hz is taken for a tune", depth, rate)
			}
		}
	}
	for _, glide := range []float64{0.01, 0.05, 0.1} {
		for _, vibrato := range []float64{0, 0.01} {
			// up a semitone and a half a second, and back: nine steps in ten seconds
			s := moving(func(t float64) float64 {
				k, u := math.Modf(t)
				way := math.Max(0, (u-1+glide)/glide)
				from, to := math.Mod(k, 3), math.Mod(k+1, 3)
				return math.Ln2/8*(from+(to-from)*way) + vibrato*math.Sin(2*math.Pi*5.5*t)
			})
			if n := s.steps(); n < 8 {
				t.Errorf("a tune with glides of %g s and a vibrato of %g: %d steps, want 9", glide, vibrato, n)
			}
			if vibrato == 0 && !tune([]*stretch{s}, nil, 1) {
				t.Errorf("a tune with glides of %g s is not taken for one", glide)
			}
		}
	}
	// half speed within two seconds and then on at that
	s := moving(func(t float64) float64 { return -math.Ln2 * math.Min(1, math.Max(0, (t-4)/2)) })
	if n := s.steps(); n > 0 {
		t.Errorf("a brake of two seconds: %d steps, want none", n)
	}
}

// A wow with a flutter on it climbs now and then as fast as a tune, and rests as long.
func TestSwingsInSwingsAreNoTune(t *testing.T) {
	for _, slow := range []float64{0.5, 0.8, 1, 1.5} {
		for _, fast := range []float64{2.2, 4.1, 6} {
			s := moving(func(t float64) float64 {
				return 0.04*math.Sin(2*math.Pi*slow*t) + 0.012*math.Sin(2*math.Pi*fast*t+1)
			})
			if n := s.steps(); n > 0 {
				t.Errorf("%g and %g Hz: %d steps, want none", slow, fast, n)
			}
			if tune([]*stretch{s}, nil, 1) {
				t.Errorf("%g and %g Hz: taken for a tune", slow, fast)
			}
		}
	}
}

// Notes that follow each other at once are a tune. Of two rotors that sound at once the
// frames may show now the one and now the other just so, but each is found to go on.
func TestTwoThatGoOnAreNoTune(t *testing.T) {
	part := func(s *stretch, k int) *stretch {
		from, to := 100*k+1, 100*(k+1) // blocks of a second
		return &stretch{fit: &phase.Result{Blocks: s.fit.Blocks[from:to], Motion: s.fit.Motion[from:to]}}
	}
	high, low := moving(func(float64) float64 { return 0.87 }), moving(func(float64) float64 { return 0 })
	var notes []*stretch
	for k := range 8 {
		n := part([...]*stretch{high, low}[k%2], k)
		var c path.Course
		for _, b := range n.fit.Blocks[1:] {
			c.Steps = append(c.Steps, path.Step{Moment: int(b.T / frameHop), State: comb.State{Rate: n.fit.Motion[0].Omega / (2 * math.Pi)}})
		}
		n.courses = []path.Course{c}
		notes = append(notes, n)
	}
	if !tune(notes, nil, 1) {
		t.Error("notes that follow each other are not taken for a tune")
	}
	if tune(notes, []*stretch{high, low}, 1) {
		t.Error("two rotors that go on are taken for a tune")
	}
}

// Of two stretches the motion is the same if their rates keep one ratio that a
// rotor of so many pulses can show: 1, or that of the pulses to a line of the shaft.
func TestOneMotionAtTwoMultiples(t *testing.T) {
	wander := func(t float64) float64 { return 0.03 * math.Sin(2*math.Pi*0.7*t) }
	times := func(ratio float64) *stretch {
		return moving(func(t float64) float64 { return math.Log(ratio) + wander(t) })
	}
	for _, c := range []struct {
		ratio  float64
		pulses int
		want   float64
	}{
		{1, 1, 1}, {1.004, 1, 1}, {1.006, 1, 0}, {2, 1, 0},
		{8, 8, 8}, {1.0 / 8, 8, 1.0 / 8}, {4, 8, 4}, {8.0 / 3, 8, 8.0 / 3}, {7, 8, 0}, {1.5, 8, 0},
	} {
		if got := times(c.ratio).movesWith(times(1), c.pulses); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("a ratio of %g, %d pulses: %g, want %g", c.ratio, c.pulses, got, c.want)
		}
	}
	if got := times(1).movesWith(moving(func(t float64) float64 { return 2 * wander(t) }), 8); got != 0 {
		t.Errorf("a motion of its own: %g, want 0", got)
	}
}

// Frames may read half or a third of the rate for a while: rotors at these ratios that
// move alike are one, though notes are not.
func TestOneMotionReadAsAMultiple(t *testing.T) {
	wander := func(t float64) float64 { return 0.03 * math.Sin(2*math.Pi*0.7*t) }
	for _, c := range []struct{ ratio, want float64 }{{2, 2}, {1.0 / 3, 1.0 / 3}, {1.5, 0}, {2.02, 0}} {
		s := moving(func(t float64) float64 { return math.Log(c.ratio) + wander(t) })
		if got := s.movesWithin(moving(wander), 0, 9.9, multiples(1)); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("a ratio of %g: %g, want %g", c.ratio, got, c.want)
		}
	}
}
