package synth

import (
	"math"
	"math/rand/v2"
)

// waves draws twelve waves between low and high hertz, evenly spread over the
// logarithm of the band, with random phases; their sum has the asked RMS.
func waves(r *rand.Rand, rms, low, high float64) []Wow {
	const count = 12
	out := make([]Wow, count)
	for i := range out {
		x := (float64(i) + r.Float64()) / count
		out[i] = Wow{
			Rate:  low * math.Pow(high/low, x),
			Depth: rms * math.Sqrt(2.0/count),
			Phase: 2 * math.Pi * r.Float64(),
		}
	}
	return out
}

// sampleWaves tabulates the sum of waves, with its slope, over 0 to seconds.
// The step is a 50th of the quickest wave's period, at most 5 ms, which keeps
// the interpolation below a millionth of the depth.
func sampleWaves(w []Wow, seconds float64) table {
	step := 5e-3
	for _, v := range w {
		step = math.Min(step, 0.02/math.Max(v.Rate, 1e-9))
	}
	n := int(math.Ceil(seconds/step)) + 2
	c := table{step: step, value: make([]float64, n), slope: make([]float64, n)}
	for _, v := range w {
		for i := range n {
			s, k := math.Sincos(2*math.Pi*v.Rate*float64(i)*step + v.Phase)
			c.value[i] += v.Depth * s
			c.slope[i] += 2 * math.Pi * v.Rate * v.Depth * k
		}
	}
	return c
}

// newSwell returns a random gain that rises and falls by spread dB (standard
// deviation) between low and high times per second. Its mean square is 1 within
// a few per cent.
func newSwell(r *rand.Rand, spread, low, high, seconds float64) table {
	c := sampleWaves(waves(r, spread*math.Ln10/20, low, high), seconds)
	s := spread * math.Ln10 / 20
	for i, v := range c.value {
		g := math.Exp(v - s*s)
		c.value[i] = g
		c.slope[i] *= g
	}
	return c
}
