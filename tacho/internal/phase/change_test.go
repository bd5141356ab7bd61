package phase

import (
	"math"
	"math/rand/v2"
	"testing"
)

// pushed returns noisy phases, of variance s, of a rate that a hand pushes about
// until the given moment and that runs straight from then on.
func pushed(r *rand.Rand, s, until float64) (p []Point, omega []float64) {
	const step, fine, count = 0.01, 20, 150
	const h = step / fine
	phi, w, a := 0.0, 300.0, 100.0
	for i := range count {
		p = append(p, Point{T: float64(i) * step, Phi: phi + math.Sqrt(s)*r.NormFloat64(), Var: s})
		omega = append(omega, w)
		for k := range fine {
			if float64(i)*step+float64(k)*h < until {
				a += 2000 * math.Sqrt(h) * r.NormFloat64()
			}
			phi += h * (w + a*h/2)
			w += a * h
		}
	}
	return p, omega
}

// Where a push ends is not known to a step: around it the intervals of the rate,
// drawn from the very law they assume but for the moment of the change, must hold
// the truth as often as they say. 120 motions, of which every five neighbouring
// points err much alike: one per cent and a half is one standard deviation.
func TestRateIsHonestWhereAPushEnds(t *testing.T) {
	r := rand.New(rand.NewPCG(12, 5))
	in, all := 0, 0
	for range 120 {
		until := 0.6 + 0.3*r.Float64()
		p, omega := pushed(r, 1e-4, until)
		m, _ := fit(t, p, Prior{Start: Smooth{Phi: p[0].Phi, Omega: 300}, SD: [3]float64{30, 100, 1200}})
		for i, s := range m {
			if math.Abs(p[i].T-until) > 0.05 {
				continue
			}
			all++
			if math.Abs(s.Omega-omega[i]) < 1.96*math.Sqrt(s.OmegaVar) {
				in++
			}
		}
	}
	if c := float64(in) / float64(all); c < 0.90 || c > 0.99 {
		t.Errorf("%.1f %% of the 95 %% intervals around the end of a push hold the truth", 100*c)
	}
}
