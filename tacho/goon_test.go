package tacho

import (
	"math"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// A rotor whose frames were read at half its rate from the middle on is followed as two
// stretches, each for more than its frames show. Neither is the whole: they are one.
func TestRotorsThatGoOnAtAMultipleAreOne(t *testing.T) {
	const fs, seconds = 16000.0, 6.0
	rate := func(t float64) float64 { return 300 + 80*math.Sin(2*math.Pi*t/7) }
	r := rand.New(rand.NewPCG(4, 2))
	x := make([]float64, int(seconds*fs))
	stack(r, x, fs, rate, 0.1, 0)
	for i := range x {
		x[i] += 0.01 * r.NormFloat64()
	}
	src, err := sound.New(func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }, []int{0}, len(x), fs, fs)
	if err != nil {
		t.Fatal(err)
	}
	followed := func(times, from, to float64) *stretch {
		var course phase.Course
		for at := from; at <= to; at += 0.02 {
			course.Add(at, times*rate(at), 1e-3)
		}
		s, err := refineCourse(src, course, 1e-3, Options{})
		if err != nil || s == nil {
			t.Fatalf("not followed: %v", err)
		}
		s.found, s.judged, s.rotor, s.evidence = s, true, 4, 100
		return s
	}
	first, second, other := followed(1, 0, 4), followed(0.5, 1, 6), followed(1, 2, 3)
	f := &finder{src: src, known: map[courseKey]*stretch{}, whole: map[[2]*stretch]*stretch{}}
	opt := Options{Pulses: 1, Range: DefaultRange}
	out, err := f.goOn([]*stretch{first, second}, opt)
	if err != nil || len(out) != 1 {
		t.Fatalf("%d stretches, want one (%v)", len(out), err)
	}
	from, to := out[0].times()
	if from > 0.1 || to < seconds-0.1 {
		t.Errorf("it lasts from %.2f to %.2f s, want all of %g s", from, to, seconds)
	}
	for at := from; at <= to; at += 0.1 {
		if hz, _, _ := out[0].at(at); math.Abs(hz/rate(at)-1) > 0.005 {
			t.Errorf("%.1f s: %.2f Hz, want %.2f", at, hz, rate(at))
		}
	}
	// what adds nothing beyond the ends of another is left to be weighed beside it
	if out, err = f.goOn([]*stretch{first, other}, opt); err != nil || len(out) != 2 {
		t.Errorf("%d stretches, want two (%v)", len(out), err)
	}
}
