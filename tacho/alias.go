package tacho

import "math"

// Alias returns the frequency at which a tone of frequency f appears when it is
// sampled fs times per second and nothing removes it first:
//
//	|f - fs·round(f/fs)|,  between 0 and fs/2
//
// A tone at or below fs/2 stays where it is. All tones with the same alias have
// the same samples, up to the sign of their phase, and no later work can tell
// them apart: the sampling theorem (C. E. Shannon 1949, theorem 1). The result
// is NaN if f is not finite or fs is not positive and finite.
func Alias(f, fs Hertz) Hertz {
	if !(fs > 0) || math.IsInf(float64(fs), 0) || math.IsInf(float64(f), 0) {
		return Hertz(math.NaN())
	}
	return Hertz(math.Abs(math.Remainder(float64(f), float64(fs))))
}
