package transform

// chirp transforms n complex samples, for any n, by way of a convolution of a
// fast length (L. I. Bluestein, A linear filtering approach to the computation
// of the discrete Fourier transform, 1970). With jk = (j² + k² - (k-j)²)/2
//
//	X(k) = c(k) Σ x(j) c(j) c(k-j)*   c(j) = exp(-πi j²/n)
//
// It serves the lengths with a large prime factor, for which the other plans
// would take time proportional to the square of that factor.
type chirp struct {
	n      int
	c      []complex128 // c(0) … c(n-1)
	kernel []complex128 // transform of c*, over the length of the convolution, divided by that length
	fft    *Complex
	line   []complex128
	watch  *watch
}

// slow reports whether [chirp] serves n better than gonum. Measured with the vector
// passes it is faster for prime factors from 7 on, and for long sequences of any,
// where it takes as long as gonum and can be ended early; in plain Go near 40.
// Gonum has no room for more than 13 factors.
func slow(n int) bool {
	switch {
	case countFactors(n) > 13:
		return true
	case vector:
		return largestPrime(n) > 5 || n >= 2*long
	}
	return largestPrime(n) > 40
}

// countFactors returns how many factors gonum would take n apart into: fours first,
// then primes.
func countFactors(n int) (count int) {
	for ; n%4 == 0; n /= 4 {
		count++
	}
	for f := 2; n > 1; f++ {
		if f*f > n {
			return count + 1
		}
		for ; n%f == 0; n /= f {
			count++
		}
	}
	return count
}

// largestPrime returns the largest prime factor of n, or 1 for n = 1.
func largestPrime(n int) int {
	p := 1
	for f := 2; n > 1; f++ {
		if f*f > n {
			return n
		}
		for n%f == 0 {
			n, p = n/f, f
		}
	}
	return p
}

func newChirp(n int, w *watch) *chirp {
	m := FastLen(2*n - 1)
	p := &chirp{n, make([]complex128, n), make([]complex128, m), newComplex(m, w), make([]complex128, m), w}
	sq := 0 // j² modulo 2n
	for from, to := range w.pieces(n) {
		for j := from; j < to; j++ {
			cos, sin := root(sq, 2*n)
			p.c[j] = complex(cos, -sin)
			v := complex(cos/float64(m), sin/float64(m))
			p.kernel[j] = v
			if j > 0 {
				p.kernel[m-j] = v
			}
			sq = (sq + 2*j + 1) % (2 * n)
		}
	}
	p.fft.Forward(p.kernel, p.kernel)
	return p
}

func (p *chirp) forward(dst, src []complex128) {
	for from, to := range p.watch.pieces(p.n) {
		for j := from; j < to; j++ {
			p.line[j] = src[j] * p.c[j]
		}
	}
	p.convolve()
	for from, to := range p.watch.pieces(p.n) {
		for k := from; k < to; k++ {
			dst[k] = p.line[k] * p.c[k]
		}
	}
}

func (p *chirp) inverse(dst, src []complex128) {
	for from, to := range p.watch.pieces(p.n) {
		for j := from; j < to; j++ {
			p.line[j] = conj(src[j]) * p.c[j]
		}
	}
	p.convolve()
	for from, to := range p.watch.pieces(p.n) {
		for k := from; k < to; k++ {
			dst[k] = conj(p.line[k] * p.c[k])
		}
	}
}

// convolve replaces the n numbers in line by their convolution with c*.
func (p *chirp) convolve() {
	clear(p.line[p.n:])
	p.fft.Forward(p.line, p.line)
	for from, to := range p.watch.pieces(len(p.kernel)) {
		for i := from; i < to; i++ {
			p.line[i] *= p.kernel[i]
		}
	}
	p.fft.Inverse(p.line, p.line)
}

func (p *chirp) clone(w *watch) complexPlan {
	return &chirp{p.n, p.c, p.kernel, p.fft.clone(w), make([]complex128, len(p.line)), w}
}

func conj(x complex128) complex128 { return complex(real(x), -imag(x)) }

// evenChirp makes a [sorted] transform of chirp, for real sequences of twice
// the length.
type evenChirp struct {
	p    *chirp
	line []complex128
	z    []float64
}

func newEvenChirp(n int, w *watch) *evenChirp {
	return &evenChirp{newChirp(n, w), make([]complex128, n), blocks(n)}
}

func (e *evenChirp) run(src []float64) []float64 {
	for from, to := range e.p.watch.pieces(len(e.line)) {
		for j := from; j < to; j++ {
			e.line[j] = complex(src[2*j], src[2*j+1])
		}
	}
	e.p.forward(e.line, e.line)
	for from, to := range e.p.watch.pieces(len(e.line)) {
		for k := from; k < to; k++ {
			i := place(k)
			e.z[i], e.z[i+4] = real(e.line[k]), imag(e.line[k])
		}
	}
	return e.z
}

func (e *evenChirp) clone(w *watch) sorted {
	return &evenChirp{e.p.clone(w).(*chirp), make([]complex128, len(e.line)), blocks(len(e.line))}
}

// realChirp is chirp for an odd number of real samples.
type realChirp struct {
	p     *chirp
	x, y  []complex128
	watch *watch
}

func (r *realChirp) forward(dst []complex128, src []float64) {
	r.run(src)
	copy(dst, r.y)
}

func (r *realChirp) power(dst, src []float64) {
	r.run(src)
	squares(dst, r.y[:len(dst)])
}

func (r *realChirp) run(src []float64) {
	for from, to := range r.watch.pieces(len(src)) {
		for j := from; j < to; j++ {
			r.x[j] = complex(src[j], 0)
		}
	}
	r.p.forward(r.y, r.x)
	r.y[0] = complex(real(r.y[0]), 0)
}

func (r *realChirp) inverse(dst []float64, src []complex128) {
	n := len(dst)
	r.x[0] = complex(real(src[0]), 0)
	for k := 1; k <= n/2; k++ {
		r.x[k], r.x[n-k] = src[k], conj(src[k])
	}
	r.p.inverse(r.y, r.x)
	for j := range dst {
		dst[j] = real(r.y[j])
	}
}

func (r *realChirp) clone(w *watch) realPlan {
	return &realChirp{r.p.clone(w).(*chirp), make([]complex128, len(r.x)), make([]complex128, len(r.y)), w}
}
