package sound

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestVectorsAddUpAsPlainGoDoes(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	for _, n := range []int{1, 15, 16, 57, 85, 160} {
		a, b := make([]float64, n), make([]float64, n+3)
		for i := range a {
			a[i] = r.NormFloat64()
		}
		for i := range b {
			b[i] = r.NormFloat64()
		}
		if got, want := dot(a, b), dotGo(a, b); math.Abs(got-want) > 1e-12 {
			t.Errorf("%d products add up to %v, want %v", n, got, want)
		}
	}
}

func TestVectorsTurnLinesAsPlainGoDoes(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 5))
	for _, n := range []int{1, 7, 8, 250, 1003} {
		x := make([]float64, n)
		for i := range x {
			x[i] = r.NormFloat64()
		}
		w := 0.1 + r.Float64()
		a, b := atRest(x, w, 12345), atRestGo(x, w, 12345)
		for _, d := range []float64{a.re - b.re, a.im - b.im, (a.dre - b.dre) / float64(n), (a.dim - b.dim) / float64(n)} {
			if math.Abs(d) > 1e-10 {
				t.Fatalf("%d samples: sums %v, want %v", n, a, b)
			}
		}
		y := append([]float64(nil), x...)
		takeLine(x, w, 777, 0.3+0.4i, 1e-4-2e-4i)
		takeLineGo(y, w, 777, 0.3+0.4i, 1e-4-2e-4i)
		for i := range x {
			if math.Abs(x[i]-y[i]) > 1e-11 {
				t.Fatalf("%d samples: sample %d is left as %v, want %v", n, i, x[i], y[i])
			}
		}
	}
}
