package rank

import "math"

// Near returns the value that would stand at place k of x if x were sorted, to
// within the share 2^-bits of it (exactly for 23 bits), without changing x. The
// values must be positive or zero; guess is one near the result, if any is known.
// It halves the range of what it can be, counting what lies below: no branch
// depends on the values.
func Near(x []float32, k int, guess float32, bits int) float32 {
	// the bits of positive numbers are in order as the numbers are: the result
	// is above lo, if that is not 0, and not above hi
	lo, hi := uint32(0), math.Float32bits(math.MaxFloat32)
	if at := math.Float32bits(guess); at > 3<<23 && at < 250<<23 {
		const near = 3 << 22 // a factor of three or so
		if upTo(x, math.Float32frombits(at+near)) > k {
			hi = at + near
			if upTo(x, math.Float32frombits(at-near)) <= k {
				lo = at - near
			}
		} else {
			lo = at + near
		}
	}
	for least := uint32(1) << (23 - bits); hi-lo > least; {
		m := lo + (hi-lo)/2
		if upTo(x, math.Float32frombits(m)) > k {
			hi = m
		} else {
			lo = m
		}
	}
	return math.Float32frombits(hi)
}

// upToGo returns how many of x are not above v.
func upToGo(x []float32, v float32) int {
	n := 0
	for _, a := range x {
		if a <= v {
			n++
		}
	}
	return n
}
