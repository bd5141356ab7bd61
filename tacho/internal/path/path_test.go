package path

import (
	"math"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/comb"
)

const hop = 0.02

// frames returns n moments whose candidates are decoys of little evidence and,
// where rate is above zero, one true candidate of evidence e.
func frames(n int, e float64, rate func(i int) float64) *comb.Frames {
	r := rand.New(rand.NewPCG(7, 7))
	f := &comb.Frames{Hop: hop, Moments: make([]comb.Moment, n)}
	for i := range f.Moments {
		var s []comb.State
		for range 8 {
			s = append(s, comb.State{Rate: 30 * math.Exp(3*r.Float64()), Slope: 2*r.Float64() - 1, Evidence: 7 * hop / 0.128 * (0.6 + 0.6*r.Float64())})
		}
		if f := rate(i); f > 0 {
			slope := 0.0
			if g := rate(i + 1); g > 0 {
				slope = math.Log(g/f) / hop
			}
			s = append(s, comb.State{Rate: f, Slope: slope, Evidence: e})
		}
		f.Moments[i].States = s
	}
	return f
}

// find looks for courses to the end.
func find(f *comb.Frames, r Rules) []Course {
	c, _ := Find(f, r, func() error { return nil })
	return c
}

func TestCourseFollowsARampThroughDecoys(t *testing.T) {
	rate := func(i int) float64 { return 50 * math.Exp(0.8*float64(i)*hop) }
	c := find(frames(100, 2.5, rate), Usual(hop))
	if len(c) != 1 {
		t.Fatalf("%d courses, want 1", len(c))
	}
	if n := len(c[0].Steps); n < 98 {
		t.Errorf("%d steps of 100", n)
	}
	for _, s := range c[0].Steps {
		if math.Abs(s.State.Rate/rate(s.Moment)-1) > 1e-9 {
			t.Errorf("moment %d: rate %.2f, want %.2f", s.Moment, s.State.Rate, rate(s.Moment))
		}
	}
	if c[0].Evidence < 50 {
		t.Errorf("evidence %.1f, want what 100 good moments gather", c[0].Evidence)
	}
}

func TestDecoysAloneMakeNoCourse(t *testing.T) {
	if c := find(frames(300, 0, func(int) float64 { return 0 }), Usual(hop)); len(c) != 0 {
		t.Errorf("%d courses among decoys, want none", len(c))
	}
	if c := find(&comb.Frames{Hop: hop}, Usual(hop)); len(c) != 0 {
		t.Errorf("%d courses without a moment", len(c))
	}
}

func TestShortGapsAreBridgedAndLongOnesEndACourse(t *testing.T) {
	gap := func(from, to int) func(int) float64 {
		return func(i int) float64 {
			if i >= from && i < to {
				return 0
			}
			return 80
		}
	}
	if c := find(frames(100, 2.5, gap(40, 45)), Usual(hop)); len(c) != 1 {
		t.Errorf("a gap of 0.1 s makes %d courses, want 1", len(c))
	}
	c := find(frames(120, 2.5, gap(40, 70)), Usual(hop))
	if len(c) != 2 {
		t.Fatalf("a gap of 0.6 s makes %d courses, want 2", len(c))
	}
	if last := c[0].Steps[len(c[0].Steps)-1].Moment; last > 40 {
		t.Errorf("the first course ends at moment %d, in the gap", last)
	}
}

func TestCourseDoesNotJump(t *testing.T) {
	// a jump by a fifth breaks inertia: two courses, not one
	c := find(frames(100, 2.5, func(i int) float64 {
		if i < 50 {
			return 80
		}
		return 120
	}), Usual(hop))
	if len(c) != 2 {
		t.Errorf("a jump makes %d courses, want 2", len(c))
	}
}

func TestCandidatesOfTooLittleEvidenceAreOfNoUse(t *testing.T) {
	r := Usual(hop)
	// evidence that comes and goes, above and below what is of use
	f := frames(200, 0, func(i int) float64 { return 60 + 0.2*float64(i) })
	for i, m := range f.Moments {
		m.States[len(m.States)-1].Evidence = 2 + 2*math.Sin(float64(i))
	}
	all := find(f, r)
	for i := range f.Moments {
		var kept []comb.State
		for _, s := range f.Moments[i].States {
			if s.Evidence >= r.Least() {
				kept = append(kept, s)
			}
		}
		f.Moments[i].States = kept
	}
	few := find(f, r)
	if len(all) != 1 || len(few) != 1 {
		t.Fatalf("%d courses with all candidates, %d without the weak ones, want 1 and 1", len(all), len(few))
	}
	if d := all[0].Evidence - few[0].Evidence; math.Abs(d) > 1e-9 {
		t.Errorf("the weak candidates change the evidence by %g", d)
	}
	if a, b := len(all[0].Steps), len(few[0].Steps); a != b {
		t.Errorf("%d steps with all candidates, %d without the weak ones", a, b)
	}
}
