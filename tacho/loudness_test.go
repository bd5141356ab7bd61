package tacho

import (
	"math"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/phase"
)

// turning returns a stretch of two seconds at a constant rate, in hertz.
func turning(hz float64) *stretch {
	r := &phase.Result{}
	for t := 0.0; t <= 2; t += 0.02 {
		r.Blocks = append(r.Blocks, phase.Block{T: t, Length: 0.04})
		r.Motion = append(r.Motion, phase.Smooth{Phi: 2 * math.Pi * hz * t, Omega: 2 * math.Pi * hz})
		r.SNR = append(r.SNR, 10)
	}
	return &stretch{fit: r}
}

// The power of a sum of cosines is half the sum of their squared amplitudes (Parseval's
// theorem). Those of two stacks are told to within a quarter of a decibel in 0.2 s, of
// which the belief that lines are weak takes a tenth, wherever their lines lie: at odd
// ratios, and where every line of the one lies 2 or 3 Hz beside one of the other.
func TestPowersOfTwoStacks(t *testing.T) {
	const fs, n = 16000.0, 3200
	strengths := [2][]float64{{0.9, 0.3, 0.5, 0.7, 0.2}, {0.5, 0.4, 0.6, 0.1}}
	for _, rates := range [][2]float64{{200, 137.3}, {203, 50}, {100, 303}, {120, 122}} {
		r := rand.New(rand.NewPCG(5, uint64(rates[0])))
		x := make([]float64, n)
		var want, got [2]float64
		for k, list := range strengths {
			for m, a := range list {
				angle := 2 * math.Pi * r.Float64()
				want[k] += a * a / 2
				for i := range x {
					x[i] += a * math.Cos(2*math.Pi*float64(m+1)*rates[k]*float64(i+8000)/fs+angle)
				}
			}
		}
		for i := range x {
			x[i] += 0.1 * r.NormFloat64()
		}
		got[0], got[1] = linePowers([][]float64{x}, fs, 8000, turning(rates[0]), turning(rates[1]))
		for k := range want {
			if d := 10 * math.Log10(got[k]/want[k]); math.Abs(d) > 0.25 {
				t.Errorf("%g and %g Hz: power %.4f instead of %.4f, %+.2f dB", rates[0], rates[1], got[k], want[k], d)
			}
		}
	}
}
