package transform

import "math"

// The passes of a [stockham] transform in plain Go. Each moves n complex
// numbers from src to dst; n = radix·m·s, where m is the length of the
// transforms that remain to be done after the pass and s, a multiple of 4, is
// the number of them that are interleaved.
//
// A pass of radix R computes for p = 0 … m-1, r = 0 … R-1 and q = 0 … s-1
//
//	dst(q + s(Rp+r)) = W^(pr) Σ src(q + s(p+mt)) exp(-2πi rt/R)   t = 0 … R-1
//
// with W = exp(-2πi/(Rm)). All but the first read and write blocks: four real
// parts, then four imaginary parts. tw holds W^(pr) for r = 1 … R-1, real part
// and imaginary part, one p after the other.

// block is four complex numbers: the real parts, then the imaginary parts.
type block = [8]float64

// at returns block i of x.
func at(x []float64, i int) *block { return (*block)(x[8*i:]) }

// firstGo is the first pass, of radix 4 and s = 1, for p = lo … m-1. It reads
// n complex numbers in the usual order from src and writes blocks, one for
// each p. tw is in the order of [firstTwiddles].
func firstGo(dst, src, tw []float64, m, lo int) {
	for p := lo; p < m; p++ {
		ar, ai := src[2*p], src[2*p+1]
		br, bi := src[2*(p+m)], src[2*(p+m)+1]
		cr, ci := src[2*(p+2*m)], src[2*(p+2*m)+1]
		dr, di := src[2*(p+3*m)], src[2*(p+3*m)+1]
		sr, si, tr, ti := ar+cr, ai+ci, br+dr, bi+di
		ar, ai, br, bi = ar-cr, ai-ci, br-dr, bi-di

		w := tw[24*(p/4)+firstLane[p%4]:]
		y := at(dst, p)
		y[0], y[4] = sr+tr, si+ti
		y[1], y[5] = times(w[0], w[4], ar+bi, ai-br)
		y[2], y[6] = times(w[8], w[12], sr-tr, si-ti)
		y[3], y[7] = times(w[16], w[20], ar-bi, ai+br)
	}
}

// firstLane is the place of p%4 in the twiddle factors of the first pass. The
// order 0, 2, 1, 3 is the one in which the vector pass finds the samples.
var firstLane = [4]int{0, 2, 1, 3}

// times returns the product of the complex numbers w and x.
func times(wr, wi, xr, xi float64) (re, im float64) {
	return wr*xr - wi*xi, wr*xi + wi*xr
}

func radix2Go(dst, src, tw []float64, m, s int) {
	n, s := m*s/4, s/4
	for p := range m {
		wr, wi := tw[2*p], tw[2*p+1]
		for q := range s {
			a, b := at(src, p*s+q), at(src, p*s+q+n)
			y, z := at(dst, 2*p*s+q), at(dst, 2*p*s+q+s)
			for l := range 4 {
				ar, ai, br, bi := a[l], a[l+4], b[l], b[l+4]
				y[l], y[l+4] = ar+br, ai+bi
				z[l], z[l+4] = times(wr, wi, ar-br, ai-bi)
			}
		}
	}
}

func radix3Go(dst, src, tw []float64, m, s int) {
	h := math.Sqrt(3) / 2
	n, s := m*s/4, s/4
	for p := range m {
		w := (*[4]float64)(tw[4*p:])
		for q := range s {
			i, j := p*s+q, 3*p*s+q
			a, b, c := at(src, i), at(src, i+n), at(src, i+2*n)
			x, y, z := at(dst, j), at(dst, j+s), at(dst, j+2*s)
			for l := range 4 {
				ar, ai := a[l], a[l+4]
				sr, si := b[l]+c[l], b[l+4]+c[l+4]
				dr, di := h*(b[l]-c[l]), h*(b[l+4]-c[l+4])
				x[l], x[l+4] = ar+sr, ai+si
				ar, ai = ar-0.5*sr, ai-0.5*si
				y[l], y[l+4] = times(w[0], w[1], ar+di, ai-dr)
				z[l], z[l+4] = times(w[2], w[3], ar-di, ai+dr)
			}
		}
	}
}

func radix4Go(dst, src, tw []float64, m, s int) {
	n, s := m*s/4, s/4
	for p := range m {
		w := (*[6]float64)(tw[6*p:])
		for q := range s {
			i, j := p*s+q, 4*p*s+q
			a, b, c, d := at(src, i), at(src, i+n), at(src, i+2*n), at(src, i+3*n)
			y0, y1, y2, y3 := at(dst, j), at(dst, j+s), at(dst, j+2*s), at(dst, j+3*s)
			for l := range 4 {
				sr, si := a[l]+c[l], a[l+4]+c[l+4]
				tr, ti := b[l]+d[l], b[l+4]+d[l+4]
				ar, ai := a[l]-c[l], a[l+4]-c[l+4]
				br, bi := b[l]-d[l], b[l+4]-d[l+4]
				y0[l], y0[l+4] = sr+tr, si+ti
				y1[l], y1[l+4] = times(w[0], w[1], ar+bi, ai-br)
				y2[l], y2[l+4] = times(w[2], w[3], sr-tr, si-ti)
				y3[l], y3[l+4] = times(w[4], w[5], ar-bi, ai+br)
			}
		}
	}
}

func radix5Go(dst, src, tw []float64, m, s int) {
	c1, s1 := root(1, 5)
	c2, s2 := root(2, 5)
	n, s := m*s/4, s/4
	for p := range m {
		w := (*[8]float64)(tw[8*p:])
		for q := range s {
			i, j := p*s+q, 5*p*s+q
			a, b, c, d, e := at(src, i), at(src, i+n), at(src, i+2*n), at(src, i+3*n), at(src, i+4*n)
			y0, y1, y2, y3, y4 := at(dst, j), at(dst, j+s), at(dst, j+2*s), at(dst, j+3*s), at(dst, j+4*s)
			for l := range 4 {
				ar, ai := a[l], a[l+4]
				tr, ti := b[l]+e[l], b[l+4]+e[l+4] // b and e, c and d are mirror images
				br, bi := b[l]-e[l], b[l+4]-e[l+4]
				ur, ui := c[l]+d[l], c[l+4]+d[l+4]
				cr, ci := c[l]-d[l], c[l+4]-d[l+4]
				y0[l], y0[l+4] = ar+tr+ur, ai+ti+ui
				er, ei := ar+c1*tr+c2*ur, ai+c1*ti+c2*ui
				fr, fi := ar+c2*tr+c1*ur, ai+c2*ti+c1*ui
				gr, gi := s1*br+s2*cr, s1*bi+s2*ci
				hr, hi := s2*br-s1*cr, s2*bi-s1*ci
				y1[l], y1[l+4] = times(w[0], w[1], er+gi, ei-gr)
				y2[l], y2[l+4] = times(w[2], w[3], fr+hi, fi-hr)
				y3[l], y3[l+4] = times(w[4], w[5], fr-hi, fi+hr)
				y4[l], y4[l+4] = times(w[6], w[7], er-gi, ei+gr)
			}
		}
	}
}

func radix8Go(dst, src, tw []float64, m, s int) {
	const h = math.Sqrt2 / 2
	n, s := m*s/4, s/4
	for p := range m {
		w := (*[14]float64)(tw[14*p:])
		for q := range s {
			i, j := p*s+q, 8*p*s+q
			a, b, c, d := at(src, i), at(src, i+n), at(src, i+2*n), at(src, i+3*n)
			e, f, g, k := at(src, i+4*n), at(src, i+5*n), at(src, i+6*n), at(src, i+7*n)
			y0, y1, y2, y3 := at(dst, j), at(dst, j+s), at(dst, j+2*s), at(dst, j+3*s)
			y4, y5, y6, y7 := at(dst, j+4*s), at(dst, j+5*s), at(dst, j+6*s), at(dst, j+7*s)
			for l := range 4 {
				// Sums: the even coefficients.
				ar, ai, cr, ci := a[l]+e[l], a[l+4]+e[l+4], c[l]+g[l], c[l+4]+g[l+4]
				br, bi, dr, di := b[l]+f[l], b[l+4]+f[l+4], d[l]+k[l], d[l+4]+k[l+4]
				sr, si, tr, ti := ar+cr, ai+ci, br+dr, bi+di
				ar, ai, br, bi = ar-cr, ai-ci, br-dr, bi-di
				// Differences: the odd ones.
				er, ei, gr, gi := a[l]-e[l], a[l+4]-e[l+4], c[l]-g[l], c[l+4]-g[l+4]
				fr, fi, kr, ki := b[l]-f[l], b[l+4]-f[l+4], d[l]-k[l], d[l+4]-k[l+4]
				fr, fi = h*(fr+fi), h*(fi-fr)  // times exp(-2πi/8)
				kr, ki = h*(ki-kr), -h*(ki+kr) // times exp(-6πi/8)
				ur, ui, vr, vi := er+gi, ei-gr, fr+kr, fi+ki
				er, ei, fr, fi = er-gi, ei+gr, fr-kr, fi-ki

				y0[l], y0[l+4] = sr+tr, si+ti
				y1[l], y1[l+4] = times(w[0], w[1], ur+vr, ui+vi)
				y2[l], y2[l+4] = times(w[2], w[3], ar+bi, ai-br)
				y3[l], y3[l+4] = times(w[4], w[5], er+fi, ei-fr)
				y4[l], y4[l+4] = times(w[6], w[7], sr-tr, si-ti)
				y5[l], y5[l+4] = times(w[8], w[9], ur-vr, ui-vi)
				y6[l], y6[l+4] = times(w[10], w[11], ar-bi, ai+br)
				y7[l], y7[l+4] = times(w[12], w[13], er-fi, ei+fr)
			}
		}
	}
}
