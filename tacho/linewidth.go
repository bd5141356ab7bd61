package tacho

import "math"

// LineWidth returns how wide the line with its top in bin k is, from edge to edge
// at half the power of that bin, in hertz; between bins the power is joined by
// straight lines, so pad with zeros (SpectrumOptions.FFTLen) for a smooth answer.
//
// A steady tone draws a line as wide as Resolution says. A tone that changes by r
// hertz per second draws a wider one where it moves by more than that while the
// block lasts: through a Hann window of T seconds, about 0.364·r·T in the end.
// LineWidth is NaN where an edge lies beyond the ends of the spectrum or bin k
// holds nothing, and panics if there is no bin k.
func (s *Spectrum) LineWidth(k int) Hertz {
	half := s.Power(k) / 2
	if !(half > 0) {
		return Hertz(math.NaN())
	}
	edge := func(step int) float64 {
		i := k
		for s.Power(i) > half {
			i += step
			if i < 0 || i >= s.Len() {
				return math.NaN()
			}
		}
		above, below := s.Power(i-step), s.Power(i)
		return math.Abs(float64(i-step-k)) + (above-half)/(above-below)
	}
	return Hertz((edge(-1) + edge(1)) * s.DF)
}
