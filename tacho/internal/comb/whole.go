package comb

import (
	"math"

	"rotorhum/tacho/internal/evidence"
)

// Whole returns the evidence of the lines at all multiples of rate below top
// hertz, however many they are.
func (c *Scanner) Whole(s *Spectrum, rate, top float64) float64 {
	n := int(math.Min(top, s.Top()-2*s.DF) / rate)
	if n < 1 {
		return 0
	}
	if c.long == nil || c.long.Most() < n {
		c.long = evidence.NewOrder(n)
	}
	return c.long.Sum(c.places(s, rate, n))
}

// Logs returns the logarithms of the normalised power at the multiples of rate
// below top hertz, in the channel in which each is strongest; those that do not
// stand out are taken for the median of noise.
func (s *Spectrum) Logs(rate, top float64) []float64 {
	var v []float64
	for f := rate; f < math.Min(top, s.Top()-2*s.DF); f += rate {
		most := math.Ln2
		for _, z := range s.Z {
			most = math.Max(most, z[int(f/s.DF+0.5)])
		}
		v = append(v, math.Log(most))
	}
	return v
}
