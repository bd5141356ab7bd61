package synth_test

import (
	"math"
	"strings"
	"testing"

	"rotorhum/tacho/synth"
)

func TestProfilesFollowTheirFormulas(t *testing.T) {
	exp := func(rate float64) func(float64) float64 {
		return func(t float64) float64 { return 2 * math.Exp(rate*math.Min(t, 3)) }
	}
	cases := []struct {
		name    string
		profile synth.Profile
		want    func(t float64) float64
	}{
		{"steady", synth.Steady(12.5), func(float64) float64 { return 12.5 }},
		{"ramp", synth.Ramp(2, 14, 1, 4), func(t float64) float64 { return 2 + 3*math.Max(0, math.Min(4, t-1)) }},
		{"step", synth.Ramp(2, 14, 1, 0), func(t float64) float64 {
			if t < 1 {
				return 2
			}
			return 14
		}},
		{"ramp down to rest", synth.Ramp(6, 0, 0, 3), func(t float64) float64 { return math.Max(0, 6-2*t) }},
		{"300 % a second", synth.ExponentialRamp(2, 2*math.Pow(4, 3), 0, 3), exp(math.Log(4))},
		{"wow and flutter", synth.Steady(10).Wobbling(synth.Wow{Rate: 0.5, Depth: 0.02}, synth.Wow{Rate: 7, Depth: 0.01, Phase: 1}), func(t float64) float64 {
			return 10 * (1 + 0.02*math.Sin(math.Pi*t) + 0.01*math.Sin(14*math.Pi*t+1))
		}},
		{"one point", synth.Through(synth.Point{T: 1, Speed: 3}), func(float64) float64 { return 3 }},
		{"straight through points", synth.Through(synth.Point{T: 0, Speed: 1}, synth.Point{T: 5, Speed: 1}), func(float64) float64 { return 1 }},
	}
	for _, c := range cases {
		curve, err := c.profile.Curve(5, 1)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		for x := 0.0; x <= 5; x += 0.0103 {
			if got, want := curve(x), c.want(x); math.Abs(got-want) > 1e-12*(1+want) {
				t.Errorf("%s: speed at %.4f s = %v, want %v", c.name, x, got, want)
				break
			}
		}
	}
}

// The three friction laws alone have closed solutions; so has the sum of
// Coulomb and quadratic friction. Source: separation of variables.
func TestCoastDownMatchesClosedSolutions(t *testing.T) {
	const f0 = 15.0
	cases := []struct {
		name     string
		friction synth.Friction
		want     func(t float64) float64
	}{
		{"none", synth.Friction{}, func(float64) float64 { return f0 }},
		{"Coulomb", synth.Friction{Coulomb: 2}, func(t float64) float64 { return math.Max(0, f0-2*t) }},
		{"viscous", synth.Friction{Viscous: 0.3}, func(t float64) float64 { return f0 * math.Exp(-0.3*t) }},
		{"quadratic", synth.Friction{Quadratic: 0.02}, func(t float64) float64 { return f0 / (1 + 0.02*f0*t) }},
		{"Coulomb and viscous", synth.Friction{Coulomb: 1, Viscous: 0.2}, func(t float64) float64 {
			return math.Max(0, (f0+5)*math.Exp(-0.2*t)-5)
		}},
		{"Coulomb and quadratic", synth.Friction{Coulomb: 1, Quadratic: 0.01}, func(t float64) float64 {
			phase := math.Atan(f0*0.1) - 0.1*t // sqrt(q/c) = 0.1, sqrt(q c) = 0.1
			return math.Max(0, 10*math.Tan(math.Max(0, phase)))
		}},
	}
	// A step of 1 ms leaves the fourth-order rule far below this; only where the
	// rotor stops does the cubic between two steps miss the corner.
	const tol, tolAtRest = 1e-9, 2e-3
	for _, c := range cases {
		curve, err := synth.CoastDown(f0, c.friction).Curve(20, 1)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		for x := 0.0; x <= 20; x += 0.01037 {
			got, want := curve(x), c.want(x)
			limit := tol
			if want < 0.01 {
				limit = tolAtRest
			}
			if math.Abs(got-want) > limit {
				t.Errorf("%s: speed at %.4f s = %v, want %v", c.name, x, got, want)
				break
			}
		}
		if c.friction.Coulomb > 0 && curve(19.9) != 0 {
			t.Errorf("%s: still turning at the end: %v rev/s", c.name, curve(19.9))
		}
	}
}

func TestTrialPushesAgainstFriction(t *testing.T) {
	pushes := []synth.Push{
		{Start: 1, Seconds: 2, Accel: 8, Top: 20, Surge: 2},
		{Start: 6, Seconds: 2, Accel: 12, Top: 25},
	}
	friction := synth.Friction{Coulomb: 0.5, Viscous: 0.1}
	p := synth.Trial(friction, pushes...).Braked(synth.Brake{Start: 10, Seconds: 3, Decel: 10})
	curve, err := p.Curve(14, 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, at := range []float64{0, 0.5, 1} {
		if v := curve(at); v != 0 {
			t.Errorf("at rest before the first push, but %v rev/s at %v s", v, at)
		}
	}
	if !(curve(2) > 3 && curve(7.8) > curve(5.9)+5) {
		t.Errorf("pushes do not drive: %v at 2 s, %v before and %v after the second", curve(2), curve(5.9), curve(7.8))
	}
	if v := curve(12.5); v != 0 {
		t.Errorf("the brake does not stop it: %v rev/s", v)
	}
	// Between the pushes only friction acts: the closed solution from any point on.
	start := curve(3.5)
	for _, dt := range []float64{0.5, 1, 2} {
		if got, want := curve(3.5+dt), (start+5)*math.Exp(-0.1*dt)-5; math.Abs(got-want) > 1e-9 {
			t.Errorf("%v s of coasting from %v rev/s: %v, want %v", dt, start, got, want)
		}
	}
	// A push that never ends settles where drive and friction balance:
	// 8 (1 - v/20) = 0.5 + 0.1 v, so v = 15. A surge overshoots it first.
	long, err := synth.Trial(friction, synth.Push{Start: 0, Seconds: 200, Accel: 8, Top: 20, Surge: 2}).Curve(199, 1)
	if err != nil {
		t.Fatal(err)
	}
	if v := long(190); math.Abs(v-15) > 0.1 {
		t.Errorf("settles at %v rev/s, want 15", v)
	}
	if v := long(20); !(v > 16) {
		t.Errorf("a surge should overshoot 15 rev/s, but reaches %v", v)
	}
}

func TestCurveThroughPointsStaysBetweenThem(t *testing.T) {
	points := []synth.Point{{T: 0, Speed: 0}, {T: 1, Speed: 0}, {T: 1.5, Speed: 9}, {T: 3, Speed: 10}, {T: 3.2, Speed: 2}, {T: 6, Speed: 2}, {T: 7, Speed: 5}}
	curve, err := synth.Through(points...).Curve(8, 1)
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range points {
		if got := curve(p.T); math.Abs(got-p.Speed) > 1e-12 {
			t.Errorf("at knot %d: %v, want %v", i, got, p.Speed)
		}
		if i == 0 {
			continue
		}
		q := points[i-1]
		low, high := math.Min(p.Speed, q.Speed), math.Max(p.Speed, q.Speed)
		last := q.Speed
		for x := q.T; x < p.T; x += 0.007 {
			v := curve(x)
			if v < low-1e-12 || v > high+1e-12 {
				t.Errorf("at %v s: %v, outside %v to %v", x, v, low, high)
			}
			if (v-last)*(p.Speed-q.Speed) < -1e-12 {
				t.Errorf("at %v s the curve turns back", x)
			}
			last = v
		}
	}
}

func TestUnsteadyHasTheAskedSpread(t *testing.T) {
	curve := func(seed uint64) func(float64) float64 {
		p := synth.Steady(10)
		p.Unsteady = synth.Unsteady{RMS: 0.01, Low: 0.5, High: 3}
		c, err := p.Curve(200, seed)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	a, b := curve(1), curve(2)
	sum, differ := 0.0, false
	const n = 20000
	for i := range n {
		x := float64(i) * 0.01
		d := a(x)/10 - 1
		sum += d * d
		differ = differ || math.Abs(a(x)-b(x)) > 0.01
	}
	// 200 s hold a hundred periods of the slowest wave; cross terms die as 1/100.
	if rms := math.Sqrt(sum / n); math.Abs(rms-0.01) > 3e-4 {
		t.Errorf("relative spread %v, want 0.01", rms)
	}
	if !differ {
		t.Error("two seeds give the same wander")
	}
}

func TestProfilesRefuseNonsense(t *testing.T) {
	push := func(p synth.Push) synth.Profile { return synth.Trial(synth.Friction{}, p) }
	cases := map[string]struct {
		p    synth.Profile
		says string
	}{
		"no kind":            {synth.Profile{}, "no kind"},
		"unknown kind":       {synth.Profile{Kind: "warp"}, "warp"},
		"negative speed":     {synth.Steady(-1), "rev_per_s"},
		"not a number":       {synth.Steady(math.NaN()), "rev_per_s"},
		"infinite":           {synth.Ramp(0, math.Inf(1), 0, 1), "to_rev_per_s"},
		"negative duration":  {synth.Ramp(0, 1, 0, -1), "seconds"},
		"growth from rest":   {synth.ExponentialRamp(0, 5, 0, 1), "above zero"},
		"no points":          {synth.Through(), "points"},
		"points in disorder": {synth.Through(synth.Point{T: 1}, synth.Point{T: 1}), "point 2"},
		"empty push":         {push(synth.Push{Start: 1}), "push 1"},
		"negative friction":  {synth.CoastDown(3, synth.Friction{Viscous: -1}), "friction"},
		"deep wow":           {synth.Steady(1).Wobbling(synth.Wow{Rate: 1, Depth: 1}), "wow 1"},
	}
	for name, c := range cases {
		_, err := c.p.Curve(5, 1)
		if err == nil {
			t.Errorf("%s: accepted", name)
		} else if !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: error %q does not mention %q", name, err, c.says)
		}
	}
}
