package tacho

import (
	"math"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// A stack holds its rate for a second, goes up and holds again. What goes up steeply for
// most of another second is pushed; what is up at once is the next note of a tune, which
// steps by a semitone or two (the equal-tempered scale: 2^(1/12) each).
func TestTheNextNoteIsNoTurn(t *testing.T) {
	const fs, seconds, rate, held = 16000.0, 2.0, 150.0, 1.0
	for _, c := range []struct {
		name  string
		slope float64 // in the logarithm, per second
		long  float64 // seconds
		turns bool
	}{{"a push", 1.5, 0.8, true}, {"two semitones up", math.Ln2 / 6 / 0.02, 0.02, false}, {"the same with a glide", math.Ln2 / 6 / 0.04, 0.04, false}} {
		pitch := func(t float64) float64 {
			return rate * math.Exp(c.slope*math.Max(0, math.Min(c.long, t-held)))
		}
		r := rand.New(rand.NewPCG(5, 5))
		x := make([]float64, int(seconds*fs))
		stack(r, x, fs, pitch, 0.01, 0)
		for i := range x {
			x[i] += 0.02 * r.NormFloat64()
		}
		src, err := sound.New(func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }, []int{0}, len(x), fs, fs)
		if err != nil {
			t.Fatal(err)
		}
		var course phase.Course
		for at := 0.0; at <= held-0.02; at += 0.02 {
			course.Add(at, rate, 1e-3)
		}
		s, err := refineCourse(src, course, 1e-3, Options{})
		if err != nil || s == nil {
			t.Fatalf("%s: not followed up to there: %v", c.name, err)
		}
		n, _, err := s.turned(src, 1, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if (n != nil) != c.turns {
			t.Errorf("%s: followed on %v, want %v", c.name, n != nil, c.turns)
		}
	}
}
