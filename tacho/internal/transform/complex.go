package transform

import (
	"fmt"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Complex is a plan for transforms of n complex samples.
type Complex struct {
	n   int
	fft *fourier.CmplxFFT
}

// NewComplex returns a plan for n complex samples. It panics if n < 1.
func NewComplex(n int) *Complex {
	if n < 1 {
		panic("transform: a plan needs a length of at least 1")
	}
	return &Complex{n: n, fft: fourier.NewCmplxFFT(n)}
}

// Len returns n, the number of complex samples.
func (c *Complex) Len() int { return c.n }

// Clone returns a plan of the same length for another goroutine. It shares the
// read-only tables with c and has its own scratch memory.
func (c *Complex) Clone() *Complex { return NewComplex(c.n) }

// Forward computes the n coefficients X(0) … X(n-1) of the n samples in src,
// unscaled.
//
// The coefficients are written to dst and returned; a nil dst is allocated.
// dst may be src itself, otherwise src is not changed; dst and src must not
// overlap in part. Forward panics if a length is wrong.
func (c *Complex) Forward(dst, src []complex128) []complex128 {
	dst = c.check(dst, src)
	return c.fft.Coefficients(dst, src)
}

// Inverse computes the n samples of which src holds the coefficients,
// unscaled: Inverse after Forward multiplies the samples by n.
//
// dst and src are treated as in [Complex.Forward].
func (c *Complex) Inverse(dst, src []complex128) []complex128 {
	dst = c.check(dst, src)
	return c.fft.Sequence(dst, src)
}

// check panics on a wrong length and returns dst, allocated if it was nil.
func (c *Complex) check(dst, src []complex128) []complex128 {
	checkLen("src", len(src), c.n)
	if dst == nil {
		return make([]complex128, c.n)
	}
	checkLen("dst", len(dst), c.n)
	return dst
}

// checkLen panics if the slice called name does not have the length the plan
// needs.
func checkLen(name string, got, want int) {
	if got != want {
		panic(fmt.Sprintf("transform: len(%s) is %d, the plan needs %d", name, got, want))
	}
}
