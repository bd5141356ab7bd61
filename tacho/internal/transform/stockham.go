package transform

import "math/bits"

// stockham holds the tables of a complex transform of n = 4·2^a·3^b·5^c
// points that sorts itself: each pass moves the numbers from one buffer to
// another, and the coefficients come out in order (the scheme is T. G.
// Stockham's, described in Van Loan, Computational Frameworks for the Fast
// Fourier Transform, 1992, section 1.7).
//
// Between the passes the numbers lie in blocks of four real parts followed by
// four imaginary parts: number i has its real part at 8(i/4) + i%4 and its
// imaginary part four places later. Four numbers fill a line of the cache, and
// vector arithmetic needs no shuffling.
type stockham struct {
	n      int
	first  []float64 // twiddle factors of the first pass
	passes []pass
}

// pass is one pass after the first.
type pass struct {
	radix, m, s int
	tw          []float64 // radix-1 complex factors for each of m
}

// newStockham returns the tables for n points, of which [factors] has the
// radices. n divides the number of roots on the circle.
func newStockham(n int, circle *circle, w *watch) *stockham {
	t := &stockham{n: n, first: firstTwiddles(n, circle, w)}
	t.passes = passes(n/4, 4, factors(n)[1:], circle, w)
	return t
}

// factors returns the radices of the passes for n points in their order, the
// first being 4, or nil if there is no such product.
func factors(n int) []int {
	if n < 4 || n%4 != 0 {
		return nil
	}
	rest := n / 4
	r := []int{4}
	for _, f := range []int{5, 3} {
		for rest%f == 0 {
			r, rest = append(r, f), rest/f
		}
	}
	if rest&(rest-1) != 0 {
		return nil
	}
	return append(r, factors2(bits.TrailingZeros(uint(rest)))...)
}

// factors2 returns the radices for 2^l points, 8s and 4s. The last is an 8
// where there is one, because it needs no twiddle factors; the other 8s come
// first.
//
// The vector passes are fastest with as many 8s as can be: within a few
// hundredths of the best order for all l from 5 to 12, and up to a tenth
// faster than 4s. Those in plain Go are fastest with 4s, by a fifth.
func factors2(l int) []int {
	if l == 1 {
		return []int{2}
	}
	eights := l % 2
	if vector {
		eights = (l - 2*(2*l%3)) / 3
	}
	r := make([]int, 0, l/2)
	for range eights - 1 {
		r = append(r, 8)
	}
	for range (l - 3*eights) / 2 {
		r = append(r, 4)
	}
	if eights > 0 {
		r = append(r, 8)
	}
	return r
}

// passes returns the passes with the given radices for transforms of n points,
// s of them interleaved.
func passes(n, s int, radices []int, circle *circle, w *watch) []pass {
	var ps []pass
	for _, r := range radices {
		m := n / r
		p := pass{radix: r, m: m, s: s, tw: make([]float64, 0, 2*m*(r-1))}
		for from, to := range w.pieces(m) {
			for i := from; i < to; i++ {
				for j := 1; j < r; j++ {
					c, s := circle.root(i*j, n)
					p.tw = append(p.tw, c, -s)
				}
			}
		}
		ps = append(ps, p)
		n, s = m, s*r
	}
	return ps
}

// firstTwiddles returns W^p, W^2p and W^3p for the first pass over n points:
// for every four p the four real parts of W^p, its imaginary parts, and so on,
// in the order [firstLane].
func firstTwiddles(n int, circle *circle, w *watch) []float64 {
	m := n / 4
	tw := blocks((m + 3) / 4 * 12)
	for from, to := range w.pieces(m) {
		for p := from; p < to; p++ {
			for j := 1; j < 4; j++ {
				c, s := circle.root(p*j, n)
				i := 24*(p/4) + 8*(j-1) + firstLane[p%4]
				tw[i], tw[i+4] = c, -s
			}
		}
	}
	return tw
}

// runPasses does the passes from a to b and back and returns the buffer that
// was written last.
func runPasses(ps []pass, a, b []float64, w *watch) []float64 {
	for i := range ps {
		w.look()
		ps[i].run(b, a)
		a, b = b, a
	}
	return a
}

func (p *pass) run(dst, src []float64) {
	switch p.radix {
	case 2:
		radix2(dst, src, p.tw, p.m, p.s)
	case 3:
		radix3(dst, src, p.tw, p.m, p.s)
	case 4:
		radix4(dst, src, p.tw, p.m, p.s)
	case 5:
		radix5(dst, src, p.tw, p.m, p.s)
	case 8:
		radix8(dst, src, p.tw, p.m, p.s)
	default:
		panic("transform: no pass of this radix")
	}
}
