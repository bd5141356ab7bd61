package transform

// The transform of n = 2h real samples is taken as that of h complex numbers
//
//	z(j) = x(2j) + i x(2j+1)
//
// whose coefficients Z hold those of the even and the odd samples. With
// W = exp(-2πi/n) and * for the conjugate,
//
//	X(k)   = S + T        S = (Z(k) + Z(h-k)*)/2
//	X(h-k) = (S - T)*     T = -i W^k (Z(k) - Z(h-k)*)/2
//
// for k = 0 … h/2, where Z(h) means Z(0).

// halfTwiddles returns -i W^k/2 for k = 0 … h/2 in block order.
func halfTwiddles(h int, circle *circle, w *watch) []float64 {
	tw := blocks(h/2 + 1)
	for from, to := range w.pieces(h/2 + 1) {
		for k := from; k < to; k++ {
			c, s := circle.root(k, 2*h)
			i := place(k)
			tw[i], tw[i+4] = -s/2, -c/2
		}
	}
	return tw
}

// place returns where the real part of number k lies in block order.
func place(k int) int { return k/4*8 + k%4 }

// pair returns X(k) and X(h-k).
func pair(z, tw []float64, h, k int) (xr, xi, yr, yi float64) {
	i, j := place(k), place((h-k)%h)
	sr, si := (z[i]+z[j])/2, (z[i+4]-z[j+4])/2
	tr, ti := times(tw[i], tw[i+4], z[i]-z[j], z[i+4]+z[j+4])
	return sr + tr, si + ti, sr - tr, ti - si
}

// unpackGo sets dst to X(0) … X(h), as real and imaginary parts in turn, from
// Z in block order; only X(k) and X(h-k) for k = lo … hi-1 are set.
func unpackGo(dst, z, tw []float64, h, lo, hi int) {
	for k := lo; k < hi; k++ {
		xr, xi, yr, yi := pair(z, tw, h, k)
		dst[2*k], dst[2*k+1] = xr, xi
		dst[2*(h-k)], dst[2*(h-k)+1] = yr, yi
	}
}

// powerGo is unpackGo for |X|².
func powerGo(dst, z, tw []float64, h, lo, hi int) {
	for k := lo; k < hi; k++ {
		xr, xi, yr, yi := pair(z, tw, h, k)
		dst[k], dst[h-k] = xr*xr+xi*xi, yr*yr+yi*yi
	}
}

// packGo sets dst to 2 Z(0), 2 Z(h-1) … 2 Z(1), as real and imaginary parts in
// turn, from X(0) … X(h) in src: in this backward order a forward transform
// does the work of an inverse one. Only places k and h-k for k = lo … hi-1 are
// set.
//
//	2 Z(k)   = S + T        S = X(k) + X(h-k)*
//	2 Z(h-k) = (S - T)*     T = i (W^k)* (X(k) - X(h-k)*)
func packGo(dst, src, tw []float64, h, lo, hi int) {
	for k := lo; k < hi; k++ {
		i := place(k)
		xr, xi := src[2*k], src[2*k+1]
		yr, yi := src[2*(h-k)], src[2*(h-k)+1]
		if k == 0 {
			xi, yi = 0, 0 // the constant and the coefficient at half the sample rate are real
		}
		sr, si := xr+yr, xi-yi
		tr, ti := times(2*tw[i], -2*tw[i+4], xr-yr, xi+yi)
		dst[2*k], dst[2*k+1] = sr-tr, ti-si
		if k > 0 {
			dst[2*(h-k)], dst[2*(h-k)+1] = sr+tr, si+ti
		} else {
			dst[0], dst[1] = sr+tr, si+ti
		}
	}
}
