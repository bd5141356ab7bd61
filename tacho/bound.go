package tacho

import "math"

// ToneBound returns the smallest standard deviation, in hertz, with which any
// unbiased reading can tell the frequency of one steady tone: the Cramér-Rao
// bound
//
//	u(f) ≥ √24 · noise · fs / (2π · amplitude · √(n(n²-1)))
//
// for n samples at fs hertz of a cosine of the given amplitude whose size and
// phase are not known either, in white Gaussian noise of standard deviation
// noise (same unit as the amplitude). It falls with the length as n^1.5: twice
// the recording is 2.8 times as sharp. It holds for tones several periods of the
// recording away from 0 and fs/2.
//
// It returns ErrOption unless amplitude and fs are positive, noise is not
// negative, all are finite and n is at least 3.
//
// Source: D. C. Rife and R. R. Boorstyn 1974; S. M. Kay 1993, example 3.14.
func ToneBound(amplitude, noise, fs float64, n int) (Hertz, error) {
	return StackBound([]float64{amplitude}, noise, fs, n)
}

// StackBound is [ToneBound] for the pulse rate of a hum whose harmonics m = 1,
// 2, … have the given amplitudes:
//
//	u(f) ≥ √24 · noise · fs / (2π · √(n(n²-1) Σ m²A(m)²))
//
// A high harmonic counts the same motion m times over and sharpens the answer by
// as much. At least one amplitude must be above zero.
//
// Source: M. G. Christensen and A. Jakobsson 2009.
func StackBound(amplitudes []float64, noise, fs float64, n int) (Hertz, error) {
	sum := 0.0
	for i, a := range amplitudes {
		if !(a >= 0) || math.IsInf(a, 0) {
			return 0, optionError("an amplitude of %g for harmonic %d; give a finite number that is not negative", a, i+1)
		}
		ma := float64(i+1) * a
		sum += ma * ma
	}
	switch {
	case !(sum > 0) || math.IsInf(sum, 0):
		return 0, optionError("no amplitude is above zero; the bound needs a tone")
	case !(noise >= 0) || math.IsInf(noise, 0):
		return 0, optionError("a noise of %g; give its standard deviation, which is not negative", noise)
	case !(fs > 0) || math.IsInf(fs, 0):
		return 0, optionError("a sample rate of %g Hz; give a positive number", fs)
	case n < 3:
		return 0, optionError("%d samples; frequency, size and phase of a tone need at least 3", n)
	}
	N := float64(n)
	return Hertz(math.Sqrt(24/(N*(N*N-1)*sum)) * noise * fs / (2 * math.Pi)), nil
}
