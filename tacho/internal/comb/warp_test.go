package comb

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestVectorsInterpolateAsPlainGoDoes(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 8))
	for _, n := range []int{1, 3, 4, 64, 1001} {
		for _, slope := range []float64{0, 0.9, -3.3} {
			w := newWarp(n, 1, 16000, slope, hann(n))
			margin := w.reach - n/2
			x := make([]float64, n+2*margin+8)
			for i := range x {
				x[i] = r.NormFloat64()
			}
			got, want := make([]float64, n), make([]float64, n)
			w.apply(got, x, margin+4)
			if slope == 0 {
				multiplyGo(want, x[margin+4:], w.taper)
			} else {
				interpolateGo(want, x[margin+4-w.before:], w.at, w.w)
			}
			for i := range want {
				if math.Abs(got[i]-want[i]) > 1e-14 {
					t.Fatalf("%d samples, slope %v: sample %d is %v, want %v", n, slope, i, got[i], want[i])
				}
			}
		}
	}
}
