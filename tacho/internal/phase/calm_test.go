package phase

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Far from the ends half of the variance of the rate and a sixth of that of the
// acceleration come from noise: the closed forms of ∫x²/(1+x⁶)² over ∫x²/(1+x⁶) and
// of ∫x⁴/(1+x⁶)² over ∫x⁴/(1+x⁶), from nought to infinity, are 1/2 and 1/6. Draws
// without changes too fast to be heard must scatter by as much.
func TestHalfOfWhatIsNotKnownOfTheRateIsNoise(t *testing.T) {
	const n, step, variance, count = 300, 0.005, 1e-4, 2000
	var p []Point
	for i := range n {
		p = append(p, Point{T: step * float64(i), Phi: 300 * step * float64(i), Var: variance})
	}
	prior := Prior{Start: Smooth{Omega: 300}, SD: [3]float64{30, 100, 1200}, Q: []float64{1e4}}
	r := &Result{Points: p, Inflation: 1, prior: prior}
	r.Motion, _ = Run(p, prior)
	r.Calm()
	m := r.Motion[n/2]
	if got := m.CalmVar / m.OmegaVar; math.Abs(got-0.5) > 0.01 {
		t.Errorf("noise has %.4f of the variance of the rate", got)
	}
	for _, run := range [][2]int{{0, n}, {n/2 - 3, n/2 + 4}} {
		rate, acc := 0.0, 0.0
		for d := range r.Sample([][2]int{run}, count, rand.New(rand.NewPCG(6, 1)))[0] {
			e := d[n/2-run[0]]
			rate += (e.Omega - m.Omega) * (e.Omega - m.Omega) / count
			acc += (e.Alpha - m.Alpha) * (e.Alpha - m.Alpha) / count
		}
		// so many draws know a variance to 3 %
		if a, b := rate/m.OmegaVar, acc/m.AlphaVar; math.Abs(a*2-1) > 0.13 || math.Abs(b*6-1) > 0.13 {
			t.Errorf("points %d to %d: draws have %.3f of the variance of the rate, %.4f of that of the acceleration", run[0], run[1], a, b)
		}
	}
	// the more the lines disagree, the more of the changes count
	r.Inflation = 4
	r.Calm()
	if got := r.Motion[n/2].CalmVar / m.OmegaVar; math.Abs(got-0.875) > 0.01 {
		t.Errorf("where lines disagree fourfold, %.4f of the variance of the rate is left", got)
	}
}

// A motion that bends but never jerks is measured again and again: its smoothed rate
// must scatter as CalmVar says, at the ends as well.
func TestCalmVarianceIsTheScatterOfASmoothMotion(t *testing.T) {
	const n, step, count = 80, 0.01, 1500
	src := rand.New(rand.NewPCG(6, 2))
	prior := Prior{Start: Smooth{Omega: 300}, SD: [3]float64{30, 100, 1200}, Q: []float64{1e3}}
	at := [...]int{0, 3, 40, n - 1}
	var sq, claimed [len(at)]float64
	for range count {
		var p []Point
		for i := range n {
			x, variance := step*float64(i), 1e-4*(1+float64(i%3))
			p = append(p, Point{T: x, Phi: 300*x - 10*x*x + math.Sqrt(variance)*src.NormFloat64(), Var: variance})
		}
		r := &Result{Points: p, Inflation: 1, prior: prior}
		r.Motion, _ = Run(p, prior)
		r.Calm()
		for k, i := range at {
			e := r.Motion[i].Omega - 300 + 20*p[i].T
			sq[k] += e * e / count
			claimed[k] = r.Motion[i].CalmVar
		}
	}
	for k, i := range at {
		// so many looks know a variance to 4 %
		if got := sq[k] / claimed[k]; math.Abs(got-1) > 0.15 {
			t.Errorf("point %d: the rate scatters with %.3f of the variance that is claimed", i, got)
		}
	}
}
