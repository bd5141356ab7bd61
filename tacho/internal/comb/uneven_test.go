package comb

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The powers of noise scatter exponentially whatever its colour and however its level
// moves; those of knocks in a room, which are the product of two such, by more: the
// quantiles 0.9 and 0.4 of an exponential distribution are ln 10 and ln(5/3).
func TestKnocksInARoomAreNoNoise(t *testing.T) {
	const fs, n, all = 8000, 24000, 12
	noise := func(r *rand.Rand, pole float64) []float64 {
		x, last := make([]float64, n), 0.0
		for i := range x {
			last = pole*last + r.NormFloat64()
			x[i] = last
		}
		return x
	}
	for seed := range uint64(all) {
		r := rand.New(rand.NewPCG(seed, 3))
		for _, pole := range []float64{0, 0.9, -0.5} {
			if NewSpectrum([][]float64{noise(r, pole)}, fs, nil).Uneven(0) {
				t.Errorf("seed %d: noise with a pole of %g is uneven", seed, pole)
			}
		}
		gusts := noise(r, 0.5)
		for i := range gusts {
			gusts[i] *= 1 + 0.9*math.Sin(2*math.Pi*1.3*float64(i)/fs)
		}
		// and a rotor's lines in it
		for i := range gusts {
			for h := 1.0; h <= 12; h++ {
				gusts[i] += 0.3 * math.Sin(2*math.Pi*h*61.7*float64(i)/fs)
			}
		}
		if NewSpectrum([][]float64{gusts}, fs, nil).Uneven(0) {
			t.Errorf("seed %d: lines in noise that swells are uneven", seed)
		}
		// knocks at any moments, each followed by the same tail of 1 s
		tail := make([]float64, fs)
		for i := range tail {
			tail[i] = r.NormFloat64() * math.Pow(10, -3*float64(i)/fs)
		}
		x := noise(r, 0)
		for i := range x {
			x[i] *= 1e-3
		}
		for range 20 {
			at, a := r.IntN(n), 0.5+r.Float64()
			for i, v := range tail {
				if at+i < n {
					x[at+i] += a * v
				}
			}
		}
		if !NewSpectrum([][]float64{x}, fs, nil).Uneven(0) {
			t.Errorf("seed %d: knocks in a room are as even as noise", seed)
		}
	}
}
