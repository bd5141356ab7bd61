package tacho

import (
	"math"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// A voice that passes lines just before the end of what was followed makes them seem to
// stop there: three lines of 200 Hz beside each of which one that is 14 dB louder, and a
// few hertz off, sounds for the last 0.3 s. They go on beyond or do not; in noise in which
// they hardly show in a moment alone nothing can be said of that.
func TestWhatAVoiceAddsIsNotMissedBeyondAnEnd(t *testing.T) {
	const fs, rate, end, seconds = 8000.0, 200.0, 2.0, 3.0
	for _, c := range []struct {
		noise  float64
		goesOn bool
		lo, hi float64 // nats
	}{
		{0.1, true, clearly, math.Inf(1)},
		{0.1, false, math.Inf(-1), -clearly},
		{0.18, true, -1, math.Inf(1)},
	} {
		r := rand.New(rand.NewPCG(5, 5))
		x := make([]float64, int(seconds*fs))
		for i := range x {
			at := float64(i) / fs
			x[i] = c.noise * r.NormFloat64()
			if at > end && !c.goesOn {
				continue
			}
			for m := 1.0; m <= 3; m++ {
				x[i] += 0.05 * math.Sin(2*math.Pi*m*rate*at+m*m)
				if at > end-0.3 && at < end {
					x[i] += 0.25 * math.Sin(2*math.Pi*m*(rate+2)*at)
				}
			}
		}
		src, err := sound.New(func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }, []int{0}, len(x), fs, fs)
		if err != nil {
			t.Fatal(err)
		}
		var course phase.Course
		for at := 0.0; at <= end; at += 0.02 {
			course.Add(at, rate, 0)
		}
		s, err := refineCourse(src, course, 1e-3, Options{})
		if err != nil || s == nil {
			t.Fatalf("the lines are not followed: %v", err)
		}
		nats, err := s.goesOn(src, 1)
		if err != nil {
			t.Fatal(err)
		}
		if nats < c.lo || nats > c.hi {
			t.Errorf("noise of %g, go on: %v: evidence %.1f nats, want %g to %g", c.noise, c.goesOn, nats, c.lo, c.hi)
		}
	}
}
