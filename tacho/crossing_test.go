package tacho

import (
	"math"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// Of two rotors whose rates cross, which were followed as if each had turned back there,
// each is followed as it goes on in truth.
func TestWhatCrossesIsFollowedOn(t *testing.T) {
	const fs, seconds, meeting = 16000.0, 6.0, 4.0
	rise := func(t float64) float64 { return 330 * math.Exp(0.04*(t-meeting)) }
	fall := func(t float64) float64 { return 330 * math.Exp(-0.2*(t-meeting)) }
	r := rand.New(rand.NewPCG(5, 5))
	x := make([]float64, int(seconds*fs))
	stack(r, x, fs, rise, 0.02, 0)
	stack(r, x, fs, fall, 0.01, 0)
	for i := range x {
		x[i] += 0.01 * r.NormFloat64()
	}
	src, err := sound.New(func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }, []int{0}, len(x), fs, fs)
	if err != nil {
		t.Fatal(err)
	}
	back := func(a, b func(t float64) float64) *stretch {
		var course phase.Course
		for at := 0.0; at <= seconds; at += 0.02 {
			f := a
			if at > meeting {
				f = b
			}
			course.Add(at, f(at), 1e-3)
		}
		s, err := refineCourse(src, course, 1e-3, Options{})
		if err != nil || s == nil {
			t.Fatalf("not followed: %v", err)
		}
		return s
	}
	a, b := back(rise, fall), back(fall, rise)
	in, more := []*stretch{a, b}, []*stretch{b}
	if err := (&finder{src: src}).uncross(in, more, Options{Pulses: 1, Range: DefaultRange}); err != nil {
		t.Fatal(err)
	}
	if more[0] != in[1] || in[0] == a || in[1] == b {
		t.Fatal("not followed anew")
	}
	for i, truth := range [...]func(t float64) float64{rise, fall} {
		for at := 0.3; at < seconds-0.3; at += 0.1 {
			if hz, _, _ := in[i].at(at); math.Abs(hz/truth(at)-1) > 0.005 {
				t.Errorf("at %.1f s %.2f Hz instead of %.2f", at, hz, truth(at))
			}
		}
	}
}

// Two courses that come together and part again turn back where they meet, wherever that
// is; two that cross, run side by side, or only come near do not.
func TestTurningBackIsNotCrossing(t *testing.T) {
	up := func(t float64) float64 { return 0.1 * (t - 5.3) }
	down := func(t float64) float64 { return -0.2 * (t - 5.3) }
	over := func(a, b func(t float64) float64) func(t float64) float64 {
		return func(t float64) float64 {
			if t < 5.3 {
				return a(t)
			}
			return b(t)
		}
	}
	for _, c := range []struct {
		name string
		a, b func(t float64) float64
		want bool
	}{
		{"each goes on as the other", over(up, down), over(down, up), true},
		{"they cross", up, down, false},
		{"side by side", up, func(t float64) float64 { return up(t) + 0.01 }, false},
		{"a tenth apart", over(up, down), func(t float64) float64 { return over(down, up)(t) + 0.1 }, false},
	} {
		at, ok := moving(c.a).turnsBackAt(moving(c.b))
		if ok != c.want || ok && math.Abs(at-5.3) > 0.05 {
			t.Errorf("%s: turn back %t at %.2f s, want %t at 5.3", c.name, ok, at, c.want)
		}
	}
}

// A line a part of a hertz beside another is not it, followed not quite right, if it turns
// against it again and again.
func TestWhatTurnsAgainstALineIsNotThatLine(t *testing.T) {
	first := moving(func(float64) float64 { return 0 }) // 159 Hz for ten seconds
	for _, c := range []struct {
		name string
		log  func(t float64) float64
		want bool
	}{
		{"its fifth part, off by a twentieth of a hertz", func(float64) float64 { return math.Log(0.2) + 0.05/159.2 }, true},
		{"its fifth part, swaying about it", func(t float64) float64 { return math.Log(0.2) + 0.002*math.Sin(t) }, true},
		{"a rate at 4.98 of it", func(float64) float64 { return math.Log(1 / 4.98) }, false},
		{"a rate at 4.5 of it", func(float64) float64 { return math.Log(1 / 4.5) }, false},
	} {
		if got := moving(c.log).inLine(first, 1); got != c.want {
			t.Errorf("%s: in line %t, want %t", c.name, got, c.want)
		}
	}
}
