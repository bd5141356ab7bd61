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
	work = work[:n+1]
	sum := 0.0
	work[0] = 0
	for i, v := range z {
		sum += fastLog2(v)
		work[i+1] = sum
	}
	// the mean logarithm of exponentially distributed power is below that of
	// its mean by Euler's constant
	const shift = 0.5772156649 / math.Ln2
	const width = 2*contrastHalf + 1
	for i := range z {
		if i == contrastHalf && n >= 2*contrastHalf {
			break
		}
		z[i] *= lower(z, work, i, shift)
	}
	if n < 2*contrastHalf {
		return
	}
	inner := z[contrastHalf : n-contrastHalf]
	before, after := work[:len(inner)], work[width:]
	after = after[:len(inner)]
	for i := range inner {
		inner[i] *= fastExp2Down((after[i]-before[i])*(1.0/width) + shift)
	}
	for i := n - contrastHalf; i < n; i++ {
		z[i] *= lower(z, work, i, shift)
	}
}

// lower is what z[i] is multiplied by near an end.
func lower(z, work []float64, i int, shift float64) float64 {
	lo, hi := max(0, i-contrastHalf), min(len(z), i+contrastHalf+1)
	return fastExp2Down((work[hi]-work[lo])/float64(hi-lo) + shift)
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

// fastExp2Down is fastExp2(-x) for x > 0 and else 1.
func fastExp2Down(x float64) float64 {
	x = max(x, 0)
	k := int(x)
	f := 1 - (x - float64(k))
	return math.Float64frombits(uint64(1022-k)<<52) * (1 + f*(0.6565+0.3435*f))
}
