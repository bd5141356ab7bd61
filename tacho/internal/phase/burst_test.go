package phase

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// kinked returns n noisy phases, every 10 ms, of a rate that holds until the time
// kink and then rises by slope, from 300 rad/s.
func kinked(r *rand.Rand, n int, kink, slope, s float64) (p []Point) {
	for i := range n {
		at := float64(i) * 0.01
		after := math.Max(0, at-kink)
		p = append(p, Point{T: at, Phi: 300*at + slope*after*after/2 + math.Sqrt(s)*r.NormFloat64(), Var: s})
	}
	return p
}

// Least squares with two straight lines of rate that meet at a known moment have
// the variance s x'(X'X)^-1 x. Who has to find the moment, and that there is one,
// stays within a few times of it: two neighbouring blocks may be in doubt, and the
// error must be the one that is stated.
func TestASuddenSlopeIsFoundInItsMoment(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 1))
	const n, s, draws = 300, 0.0004, 60
	all, stated := 0.0, 0.0
	var ratios []float64
	for range draws {
		kink, slope := 1+r.Float64(), 100*math.Exp(2*r.Float64())
		p := kinked(r, n, kink, slope, s)
		prior := Prior{Start: Smooth{Phi: p[0].Phi, Omega: 300}, SD: [3]float64{30, 100, 1200}}
		m, _ := fit(t, p, prior)
		x := mat.NewDense(n, 4, nil)
		for i, q := range p {
			after := math.Max(0, q.T-kink)
			x.SetRow(i, []float64{1, q.T, q.T * q.T / 2, after * after / 2})
		}
		var a mat.SymDense
		a.SymOuterK(s, x.T())
		a.ScaleSym(1/(s*s), &a)
		var chol mat.Cholesky
		if !chol.Factorize(&a) {
			t.Fatal("the lines cannot be fitted")
		}
		var c mat.SymDense
		if err := chol.InverseTo(&c); err != nil {
			t.Fatal(err)
		}
		got, want := 0.0, 0.0
		for i, q := range p {
			after := math.Max(0, q.T-kink)
			row := mat.NewVecDense(4, []float64{0, 1, q.T, after})
			want += mat.Inner(row, &c, row)
			e := m[i].Omega - 300 - slope*after
			got += e * e
			stated += m[i].OmegaVar
		}
		all += got
		ratios = append(ratios, math.Sqrt(got/want))
	}
	slices.Sort(ratios)
	if m := ratios[draws/2]; m > 4 {
		t.Errorf("RMS error %.2f times that of two lines whose meeting is known, in the median", m)
	}
	// a few draws make up most of the sum
	if m := math.Sqrt(all / stated); m > 1.5 || m < 0.5 {
		t.Errorf("RMS error %.2f times the stated one", m)
	}
}
