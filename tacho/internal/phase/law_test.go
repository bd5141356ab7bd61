package phase

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// A constant change of acceleration makes of rest jt^3/6, jt^2/2 and jt.
func TestBendingIsThatOfAConstantJerk(t *testing.T) {
	const j = 7.0
	l := &law{t: []float64{0, 1, 2}, jerk: []float64{j, j, j}}
	var p []Point
	for _, at := range [...]float64{0, 0.1, 0.5, 1.3, 2} {
		p = append(p, Point{T: at})
	}
	for i, b := range l.bends(p) {
		at := p[i].T
		for k, v := range [...][2]float64{{b.Phi, j * at * at * at / 6}, {b.Omega, j * at * at / 2}, {b.Alpha, j * at}} {
			if math.Abs(v[0]-v[1]) > 1e-12 {
				t.Errorf("%g s: derivative %d is %g, want %g", at, k, v[0], v[1])
			}
		}
	}
	if l.at(1.5) != j {
		t.Errorf("the bending at 1.5 s is %g, want %g", l.at(1.5), j)
	}
}

// A rate that falls by equal ratios is w e^(-kt). Who knows that, but not w, k nor the
// phases of the lines, has the variance of the Cramér-Rao bound, the inverse of the
// Fisher information of phases in white noise: the smoother, which has to find out,
// must come within twice its root, on the mean. (Without the law it misses by 25 times.)
func TestEqualRatiosAreSmoothedAsOneCurve(t *testing.T) {
	const w, k, seconds, snr, draws = 200.0, 1.5, 1.2, 10.0, 20
	rate := func(t float64) float64 { return w * math.Exp(-k*t) }
	sum, bound, n := 0.0, 0.0, 0.0
	r := rand.New(rand.NewPCG(3, 8))
	for range draws {
		u := newTurning(t, r, seconds, snr, rate)
		f, err := Follow(u.src, u.truth, 0.003, Options{Harmonics: 8, Memory: 0.35})
		if err != nil || f == nil {
			t.Fatalf("not followed: %v", err)
		}
		// for every line: of its own phase, of w and of k
		const fs = 8000
		info := u.information(snr)
		slope := func(at float64) (byW, byK float64) { // of the phase
			e := math.Exp(-k * at)
			return 2 * math.Pi * (1 - e) / k, 2 * math.Pi * w * (at*e/k - (1-e)/(k*k))
		}
		var meanW, meanK, ww, wk, kk float64
		const all = seconds * fs
		for i := 0; i < all; i++ {
			a, b := slope(float64(i) / fs)
			meanW, meanK = meanW+a/all, meanK+b/all
			ww, wk, kk = ww+info*a*a, wk+info*a*b, kk+info*b*b
		}
		fisher := mat.NewDense(2, 2, []float64{ww - info*all*meanW*meanW, wk - info*all*meanW*meanK, wk - info*all*meanW*meanK, kk - info*all*meanK*meanK})
		var cov mat.Dense
		if err := cov.Inverse(fisher); err != nil {
			t.Fatal(err)
		}
		for i, m := range f.Motion {
			at := f.Blocks[i].T
			e := m.Omega/(2*math.Pi) - rate(at)
			sum += e * e
			row := mat.NewVecDense(2, []float64{math.Exp(-k * at), -w * at * math.Exp(-k*at)})
			bound += mat.Inner(row, &cov, row)
			n++
		}
	}
	if ratio := math.Sqrt(sum / bound); ratio > 2 || ratio < 0.5 {
		t.Errorf("RMS error %.2f times the bound of %.4f Hz, want at most 2", ratio, math.Sqrt(bound/n))
	}
}
