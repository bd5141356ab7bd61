package phase

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// The same points from the end to the start are the same motion backwards: all
// variances must agree, those at a start of which next to nothing was known, too.
func TestSmoothingKnowsNoDirection(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	for _, q := range []float64{0.01, 1, 1e3, 1e6} {
		for _, variance := range []float64{1e-7, 1e-4, 1e-2} {
			var p, back []Point
			at := 0.0
			for range 300 {
				p = append(p, Point{T: at, Phi: 600*at + math.Sqrt(variance)*r.NormFloat64(), Var: variance * (0.5 + r.Float64())})
				at += 0.004 + 0.006*r.Float64()
			}
			for _, v := range slices.Backward(p) {
				back = append(back, Point{T: at - v.T, Phi: -v.Phi, Var: v.Var})
			}
			prior := func(p []Point) Prior {
				return Prior{Start: Smooth{Phi: p[0].Phi, Omega: 600}, SD: [3]float64{30, 180, 2400}, Q: []float64{q}}
			}
			a, _ := Run(p, prior(p))
			b, _ := Run(back, prior(back))
			for i, s := range a {
				e := b[len(b)-1-i]
				if !(s.OmegaVar > 0) || math.Abs(s.OmegaVar/e.OmegaVar-1) > 0.01 || math.Abs(s.PhiVar/e.PhiVar-1) > 0.01 {
					t.Fatalf("q %g, variance %g: point %d has variances %.6g and %.6g, backwards %.6g and %.6g",
						q, variance, i, s.PhiVar, s.OmegaVar, e.PhiVar, e.OmegaVar)
				}
				if d := math.Abs(s.Omega - e.Omega); d > 0.02*math.Sqrt(s.OmegaVar) {
					t.Fatalf("q %g, variance %g: point %d has rate %.9g, backwards %.9g, standard uncertainty %.2g",
						q, variance, i, s.Omega, e.Omega, math.Sqrt(s.OmegaVar))
				}
			}
		}
	}
}
