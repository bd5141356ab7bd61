package transform

import (
	"fmt"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Complex is a plan for transforms of n complex samples.
type Complex struct {
	n    int
	plan complexPlan
}

// complexPlan is a way to transform n complex samples. The slices have the
// right length and may be the same.
type complexPlan interface {
	forward(dst, src []complex128)
	inverse(dst, src []complex128)
	// clone returns another of the same kind, ended by w.
	clone(w *watch) complexPlan
}

// NewComplex returns a plan for n complex samples. It panics if n < 1.
func NewComplex(n int) *Complex {
	checkPlan(n)
	return newComplex(n, &watch{})
}

// newComplex returns a plan whose work w ends early.
func newComplex(n int, w *watch) *Complex { return &Complex{n, newComplexPlan(n, w)} }

func newComplexPlan(n int, w *watch) complexPlan {
	if factors(n) != nil {
		return &whole{n, newSorted(n, newCircle(n, w), w), w}
	}
	if slow(n) {
		return newChirp(n, w)
	}
	return &complexGonum{fourier.NewCmplxFFT(n)}
}

// Len returns n, the number of complex samples.
func (c *Complex) Len() int { return c.n }

// Clone returns a plan of the same length for another goroutine. It shares the
// read-only tables with c and has its own scratch memory.
func (c *Complex) Clone() *Complex { return c.clone(&watch{}) }

func (c *Complex) clone(w *watch) *Complex { return &Complex{c.n, c.plan.clone(w)} }

// Forward computes the n coefficients X(0) … X(n-1) of the n samples in src,
// unscaled.
//
// The coefficients are written to dst and returned; a nil dst is allocated.
// dst may be src itself, otherwise src is not changed; dst and src must not
// overlap in part. Forward panics if a length is wrong.
func (c *Complex) Forward(dst, src []complex128) []complex128 {
	dst = c.check(dst, src)
	c.plan.forward(dst, src)
	return dst
}

// Inverse computes the n samples of which src holds the coefficients,
// unscaled: Inverse after Forward multiplies the samples by n.
//
// dst and src are treated as in [Complex.Forward].
func (c *Complex) Inverse(dst, src []complex128) []complex128 {
	dst = c.check(dst, src)
	c.plan.inverse(dst, src)
	return dst
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

// checkPlan panics if no plan can have length n.
func checkPlan(n int) {
	if n < 1 {
		panic("transform: a plan needs a length of at least 1")
	}
}

// checkLen panics if the slice called name does not have the length the plan
// needs.
func checkLen(name string, got, want int) {
	if got != want {
		panic(fmt.Sprintf("transform: len(%s) is %d, the plan needs %d", name, got, want))
	}
}
