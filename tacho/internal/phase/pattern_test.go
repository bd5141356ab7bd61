package phase

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A rotor of eight blades that are not evenly set, at an even speed that then
// rises: the pattern that comes again with every turn must be found, and without it
// the rate must be known as if there were none.
func TestPatternOfUnequalBladesIsNoChangeOfSpeed(t *testing.T) {
	const pulses, step, s = 8, 0.02, 1e-4
	r := rand.New(rand.NewPCG(4, 1))
	inside, all := 0, 0
	var plain, clean float64
	for range 20 {
		angle := 2 * math.Pi * r.Float64()
		var p []Point
		var blocks []Block
		var truth []float64
		phi := 0.0
		for at := 0.0; at < 4; at += step {
			omega := func(t float64) float64 { return 600 + 100*math.Max(0, t-2) }
			b := Block{T: at, Length: 4 * 2 * math.Pi / omega(at), Phi: phi}
			shift := 0.1 * passed(b.Length*omega(at)/(2*math.Pi)/pulses) * math.Sin(phi/pulses+angle)
			p = append(p, Point{T: at, Phi: phi + shift + math.Sqrt(s)*r.NormFloat64(), Var: s})
			blocks = append(blocks, b)
			truth = append(truth, omega(at))
			phi += step * omega(at+step/2)
		}
		course := Course{T: []float64{0, 4}, Rate: []float64{600 / (2 * math.Pi), 800 / (2 * math.Pi)}}
		prior := Prior{Start: Smooth{Phi: p[0].Phi, Omega: 600}, SD: [3]float64{30, 200, 2400}}
		lo, hi := 1e-6*360000, 1e3*360000.0
		q, err := Fit(p, prior, lo, hi, goOn)
		if err != nil {
			t.Fatal(err)
		}
		turn := newPattern(blocks, func(i int) float64 { return course.At(blocks[i].T) }, pulses)
		without, q1, err := turn.steadied(p, prior, lo, hi, q, goOn)
		if err != nil || turn.coef == nil {
			t.Fatalf("no pattern found: %v", err)
		}
		if got := math.Hypot(turn.coef[0], turn.coef[1]); math.Abs(got-0.1) > 0.02 {
			t.Errorf("first term %.3f rad, want 0.1", got)
		}
		rough, _ := Run(p, Prior{Start: prior.Start, SD: prior.SD, Q: []float64{q}})
		motion, _ := Run(without, Prior{Start: prior.Start, SD: prior.SD, Q: []float64{q1}})
		res := &Result{Points: without, Motion: motion, prior: Prior{SD: prior.SD, Q: []float64{q1}}}
		turn.widen(res)
		for i, m := range res.Motion {
			if math.Abs(p[i].T-2) < 0.2 {
				continue // the bend
			}
			all++
			if math.Abs(m.Omega-truth[i]) < 1.96*math.Sqrt(m.OmegaVar) {
				inside++
			}
			plain += (rough[i].Omega - truth[i]) * (rough[i].Omega - truth[i])
			clean += (m.Omega - truth[i]) * (m.Omega - truth[i])
		}
	}
	if clean > 0.25*plain {
		t.Errorf("rms error %.3f of that with the pattern left in, want at most half", math.Sqrt(clean/plain))
	}
	if c := float64(inside) / float64(all); c < 0.9 {
		t.Errorf("%.1f %% of the 95 %% intervals hold the truth", 100*c)
	}
}

// Even blades have no pattern, and what is known of the motion stays as it was.
func TestEvenBladesHaveNoPattern(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 2))
	found := 0
	for range 40 {
		p := straight(r)
		var blocks []Block
		for _, q := range p {
			blocks = append(blocks, Block{T: q.T, Length: 0.04, Phi: 600 * q.T})
		}
		prior := Prior{Start: Smooth{Phi: p[0].Phi, Omega: 600}, SD: [3]float64{30, 200, 2400}}
		turn := newPattern(blocks, func(int) float64 { return 95 }, 7)
		if turn == nil {
			t.Fatal("no terms")
		}
		q, _ := Fit(p, prior, 0.36, 3.6e8, goOn)
		if _, _, err := turn.steadied(p, prior, 0.36, 3.6e8, q, goOn); err != nil {
			t.Fatal(err)
		}
		if turn.coef != nil {
			found++
		}
	}
	if found > 2 {
		t.Errorf("a pattern is found for %d of 40 rotors that have none", found)
	}
}

// straight returns the phases of an even speed.
func straight(r *rand.Rand) []Point {
	var p []Point
	for at := 0.0; at < 3; at += 0.02 {
		p = append(p, Point{T: at, Phi: 600*at + 0.01*r.NormFloat64(), Var: 1e-4})
	}
	return p
}

// A motion that has followed a pattern is known for what it is, and one that sways at no
// simple ratio to the turns is not taken for one.
func TestRecursWithEveryTurnOnly(t *testing.T) {
	const pulses, step, s, omega = 7, 0.04, 1e-4, 160.0
	for _, c := range []struct {
		perTurn float64
		want    bool
	}{{1, true}, {2, true}, {0.63, false}, {0, false}} {
		r := rand.New(rand.NewPCG(4, 3))
		res := &Result{}
		for at := 0.0; at < 6; at += step {
			phi := omega * at
			shift := 0.05 * math.Sin(c.perTurn*phi/pulses)
			res.Points = append(res.Points, Point{T: at, Phi: phi + shift + math.Sqrt(s)*r.NormFloat64(), Var: s})
			res.Blocks = append(res.Blocks, Block{T: at, Length: 3 * 2 * math.Pi / omega, Phi: phi})
		}
		res.prior = Prior{Start: Smooth{Phi: res.Points[0].Phi, Omega: omega}, SD: [3]float64{30, 50, 600}}
		q, err := Fit(res.Points, res.prior, 1e-6*omega*omega, 1e3*omega*omega, goOn)
		if err != nil {
			t.Fatal(err)
		}
		res.prior.Q = []float64{q}
		res.Motion, _ = Run(res.Points, res.prior)
		if got := res.Recurs(pulses); got != c.want {
			t.Errorf("shifts that come %g times a turn: %v, want %v", c.perTurn, got, c.want)
		}
	}
}
