package comb

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A thing as unlikely as e^-n must not happen more often than that to blades drawn at
// random, and blades of two kinds in turn must look unlikely.
func TestChosenIsAsUnlikelyAsItSays(t *testing.T) {
	const draws, noise = 4000, 6.0 // the noise lies so many nats below the loudest line
	r := rand.New(rand.NewPCG(8, 8))
	over := func(v []float64) []float64 {
		top := math.Inf(-1)
		for _, x := range v {
			top = math.Max(top, x)
		}
		for i := range v {
			v[i] = math.Max(standing, v[i]-top+standing+noise)
		}
		return v
	}
	for _, z := range []int{4, 6, 8, 12} {
		often := [...]float64{1, 2, 3, 4}
		var count [len(often)]float64
		for range draws {
			n := chosen(over(shaftLines(r, z, 4*z, 0.5, 0.1)), z, z/2)
			for i, nats := range often {
				if n > nats {
					count[i]++
				}
			}
		}
		for i, nats := range often {
			// four standard deviations of a count above what is expected
			want := draws * math.Exp(-nats)
			if count[i] > want+4*math.Sqrt(want) {
				t.Errorf("%d blades: %g of %d are said to be as rare as e^-%g or rarer", z, count[i], draws, nats)
			}
		}
		// every second blade is weaker by half, and the pulses are otherwise much alike
		v := make([]float64, 4*z)
		for k := range v {
			var re, im float64
			for b := range z {
				s, c := math.Sincos(2 * math.Pi * float64((k+1)*b) / float64(z))
				g := 1 - 0.5*float64(b%2) + 0.01*r.NormFloat64()
				re, im = re+g*c, im+g*s
			}
			v[k] = math.Log(re*re + im*im)
		}
		if n := chosen(over(v), z, z/2); n < 3 {
			t.Errorf("%d blades of two kinds in turn: %.1f nats", z, n)
		}
	}
}
