package transform

import (
	"math"
	"unsafe"
)

// root returns cos(2πk/n) and sin(2πk/n), each within one unit in the last
// place: the angle is folded into the first eighth of the circle before it is
// rounded, so its error does not grow with k.
func root(k, n int) (cos, sin float64) {
	k %= n
	if k < 0 {
		k += n
	}
	// 8k = octant n + rest: the angle lies rest/(8n) of a turn into the octant.
	octant, rest := 8*k/n, 8*k%n
	if octant%2 == 1 {
		rest = n - rest
	}
	if rest == n {
		return unfold(octant, math.Sqrt2/2, math.Sqrt2/2)
	}
	sin, cos = math.Sincos(2 * math.Pi * float64(rest) / (8 * float64(n)))
	return unfold(octant, cos, sin)
}

// unfold returns the cosine and sine of an angle in the given eighth of the
// circle, from those of the angle folded into the first.
func unfold(octant int, cos, sin float64) (c, s float64) {
	switch octant {
	case 0:
		return cos, sin
	case 1:
		return sin, cos
	case 2:
		return -sin, cos
	case 3:
		return -cos, sin
	case 4:
		return -cos, -sin
	case 5:
		return -sin, -cos
	case 6:
		return sin, -cos
	default:
		return cos, -sin
	}
}

// circle gives roots for one n many times over, as tables need them. When n is
// a multiple of 8 it holds the first eighth of them.
type circle struct {
	n      int
	eighth []complex128
}

func newCircle(n int, w *watch) *circle {
	c := &circle{n: n}
	if n%8 == 0 {
		c.eighth = make([]complex128, n/8+1)
		for from, to := range w.pieces(len(c.eighth)) {
			for k := from; k < to; k++ {
				cos, sin := root(k, n)
				c.eighth[k] = complex(cos, sin)
			}
		}
	}
	return c
}

// root is the function root for k >= 0 and n points; n divides the circle's.
func (c *circle) root(k, n int) (cos, sin float64) {
	if c.eighth == nil {
		return root(k, n)
	}
	k, part := k%n*(c.n/n), c.n/8
	octant, rest := k/part, k%part
	if octant%2 == 1 {
		rest = part - rest
	}
	e := c.eighth[rest]
	return unfold(octant, real(e), imag(e))
}

// blocks returns zeroed memory for n complex numbers in block order, see
// [stockham], starting at a multiple of 64 bytes so that a block fills one
// line of the processor's cache.
func blocks(n int) []float64 {
	n = (2*n + 7) &^ 7
	x := make([]float64, n+7)
	skip := -int(uintptr(unsafe.Pointer(&x[0]))/8) & 7
	return x[skip : skip+n : skip+n]
}

// twoBlocks returns memory for twice n complex numbers. Passes read and write
// at equal places of the two at the same time, so these are kept half a page
// apart, lest they compete for the same lines of the cache: with buffers at
// equal places passes of radix 8 take up to a third longer.
func twoBlocks(n int) (a, b []float64) {
	const page = 4096 / 8
	n = (2*n + 7) &^ 7
	gap := (page/2 - n%page + page) % page
	x := blocks(n + gap/2)
	return x[:n:n], x[n+gap : 2*n+gap : 2*n+gap]
}

// floats returns the memory of x as real and imaginary parts in turn.
func floats(x []complex128) []float64 {
	if len(x) == 0 {
		return nil
	}
	return unsafe.Slice((*float64)(unsafe.Pointer(&x[0])), 2*len(x))
}
