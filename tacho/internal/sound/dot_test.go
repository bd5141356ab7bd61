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
