package tacho

import (
	"math"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// A voice that passes lines just before the end of what was followed makes them seem to
// stop there: five lines of 200 Hz of which two are 14 dB louder, and off by a few hertz,
// for the last 0.3 s, and go on beyond or do not.
func TestWhatAVoiceAddsIsNotMissedBeyondAnEnd(t *testing.T) {
	const fs, rate, end, seconds = 8000.0, 200.0, 2.0, 3.0
	for _, goesOn := range []bool{true, false} {
		r := rand.New(rand.NewPCG(5, 5))
		x := make([]float64, int(seconds*fs))
		for i := range x {
			at := float64(i) / fs
			x[i] = 0.01 * r.NormFloat64()
			if at > end && !goesOn {
				continue
			}
			for m := 1.0; m <= 5; m++ {
				x[i] += 0.05 * math.Sin(2*math.Pi*m*rate*at+m*m)
			}
			if at > end-0.3 && at < end {
				x[i] += 0.25 * (math.Sin(2*math.Pi*(2*rate+3)*at) + math.Sin(2*math.Pi*(3*rate-4)*at))
			}
		}
		src, err := sound.New(func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }, []int{0}, len(x), fs, fs)
		if err != nil {
			t.Fatal(err)
		}
		var c phase.Course
		for at := 0.0; at <= end; at += 0.02 {
			c.Add(at, rate, 0)
		}
		s, err := refineCourse(src, c, 1e-3, Options{})
		if err != nil || s == nil {
			t.Fatalf("the lines are not followed: %v", err)
		}
		nats, err := s.goesOn(src, 1)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("go on: %v, evidence %.1f nats", goesOn, nats)
		if goesOn && nats < 0 || !goesOn && nats > -clearly {
			t.Errorf("go on: %v, evidence %.1f nats", goesOn, nats)
		}
	}
}
