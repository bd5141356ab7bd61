package comb

import "math"

// contrastHalf is half the number of bins that a line is compared with.
const contrastHalf = 16

// contrast divides every normalised power by the geometric mean of its
// neighbourhood, where that is above the noise. A warp that does not fit
// smears strong lines into a plateau, in which every bin would pass for a
// line; after contrast a plateau is as flat as noise, while separate lines
// stay. work must hold len(z)+1 values.
func contrast(z, work []float64) {
	n := len(z)
	work[0] = 0
	for i, v := range z {
		work[i+1] = work[i] + fastLog2(v)
	}
	// the mean logarithm of exponentially distributed power is below that of
	// its mean by Euler's constant
	const shift = 0.5772156649 / math.Ln2
	for i := range z {
		lo, hi := max(0, i-contrastHalf), min(n, i+contrastHalf+1)
		if m := (work[hi]-work[lo])/float64(hi-lo) + shift; m > 0 {
			z[i] *= fastExp2(-m)
		}
	}
}

// fastLog2 is the binary logarithm of x > 0 within 0.03 and without bias to
// speak of: the exponent of the number and a chord for its mantissa.
func fastLog2(x float64) float64 {
	b := math.Float64bits(x + 1e-9)
	e := float64(int(b>>52) - 1023)
	f := float64(b&(1<<52-1)) * (1.0 / (1 << 52))
	return e + f*(1.3465-0.3465*f)
}

// fastExp2 is 2^x within 0.3 % for |x| < 1000.
func fastExp2(x float64) float64 {
	k := math.Floor(x)
	f := x - k
	return math.Float64frombits(uint64(int(k)+1023)<<52) * (1 + f*(0.6565+0.3435*f))
}
