package transform

// interleaveGo copies numbers lo … hi-1 of the n in src, in block order, to dst, as real
// and imaginary parts in turn.
func interleaveGo(dst, src []float64, n, lo, hi int) {
	for k := lo; k < hi; k++ {
		i := place(k)
		dst[2*k], dst[2*k+1] = src[i], src[i+4]
	}
}

// backwardsGo is interleaveGo with number k going to place n-k, and number 0
// staying.
func backwardsGo(dst, src []float64, n, lo, hi int) {
	for k := lo; k < hi; k++ {
		i, j := place(k), n-k
		if k == 0 {
			j = 0
		}
		dst[2*j], dst[2*j+1] = src[i], src[i+4]
	}
}
