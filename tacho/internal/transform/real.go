package transform

import (
	"context"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Real is a plan for transforms of n real samples.
//
// The spectrum of real samples repeats itself mirrored and conjugated, so only
// the coefficients k = 0 … n/2 are computed: n/2+1 of them, n/2 rounded down.
type Real struct {
	n     int
	watch *watch
	plan  realPlan
}

// realPlan is a way to transform n real samples. The slices have the right
// lengths; src is not changed.
type realPlan interface {
	forward(dst []complex128, src []float64)
	inverse(dst []float64, src []complex128)
	power(dst, src []float64)
	// clone returns another of the same kind, ended by w.
	clone(w *watch) realPlan
}

// NewReal returns a plan for n real samples. It panics if n < 1.
func NewReal(n int) *Real {
	checkPlan(n)
	w := &watch{}
	return &Real{n, w, newRealPlan(n, w)}
}

// NewRealWith is [NewReal] with a context that ends the making early: the error is
// its own. A context that is nil never ends.
func NewRealWith(ctx context.Context, n int) (*Real, error) {
	checkPlan(n)
	r := &Real{n: n, watch: &watch{}}
	if err := r.watch.until(ctx, func() { r.plan = newRealPlan(n, r.watch) }); err != nil {
		return nil, err
	}
	return r, nil
}

func newRealPlan(n int, w *watch) realPlan {
	h := n / 2
	switch {
	case n%2 == 0 && factors(h) != nil:
		c := newCircle(n, w)
		return &halves{h, halfTwiddles(h, c, w), newSorted(h, c, w), w}
	case n%2 == 0 && slow(n):
		return &halves{h, halfTwiddles(h, newCircle(n, w), w), newEvenChirp(h, w), w}
	case slow(n):
		return &realChirp{newChirp(n, w), make([]complex128, n), make([]complex128, n), w}
	}
	return &realGonum{fourier.NewFFT(n), make([]complex128, n/2+1)}
}

// Len returns n, the number of real samples.
func (r *Real) Len() int { return r.n }

// Clone returns a plan of the same length for another goroutine. It shares the
// read-only tables with r and has its own scratch memory.
func (r *Real) Clone() *Real {
	w := &watch{}
	return &Real{r.n, w, r.plan.clone(w)}
}

// Forward computes the n/2+1 coefficients of the n samples in src, unscaled:
// a cosine of amplitude a at the centre of bin k gives |X(k)| = a n/2.
//
// The coefficients are written to dst and returned; a nil dst is allocated.
// Forward does not change src. It panics if len(src) is not n or dst is
// neither nil nor of length n/2+1.
func (r *Real) Forward(dst []complex128, src []float64) []complex128 {
	checkLen("src", len(src), r.n)
	if dst == nil {
		dst = make([]complex128, r.n/2+1)
	}
	checkLen("dst", len(dst), r.n/2+1)
	r.plan.forward(dst, src)
	return dst
}

// ForwardWith is [Real.Forward] with a context that ends it early: the error is its
// own, and what dst holds is of no use then.
func (r *Real) ForwardWith(ctx context.Context, dst []complex128, src []float64) ([]complex128, error) {
	if err := r.watch.until(ctx, func() { dst = r.Forward(dst, src) }); err != nil {
		return nil, err
	}
	return dst, nil
}

// Inverse computes n samples from the n/2+1 coefficients in src, unscaled:
// Inverse after Forward multiplies the samples by n.
//
// The imaginary parts of X(0) and, when n is even, of X(n/2) are taken to be
// zero, as they are for real samples. The samples are written to dst and
// returned; a nil dst is allocated. Inverse does not change src. It panics if
// len(src) is not n/2+1 or dst is neither nil nor of length n.
func (r *Real) Inverse(dst []float64, src []complex128) []float64 {
	checkLen("src", len(src), r.n/2+1)
	if dst == nil {
		dst = make([]float64, r.n)
	}
	checkLen("dst", len(dst), r.n)
	r.plan.inverse(dst, src)
	return dst
}

// InverseWith is [Real.Inverse] with a context, see [Real.ForwardWith].
func (r *Real) InverseWith(ctx context.Context, dst []float64, src []complex128) ([]float64, error) {
	if err := r.watch.until(ctx, func() { dst = r.Inverse(dst, src) }); err != nil {
		return nil, err
	}
	return dst, nil
}

// Power computes |X(k)|² for k = 0 … n/2 of the n samples in src, unscaled.
//
// The n/2+1 values are written to dst and returned; a nil dst is allocated.
// Power does not change src. It panics on wrong lengths like [Real.Forward].
func (r *Real) Power(dst []float64, src []float64) []float64 {
	checkLen("src", len(src), r.n)
	if dst == nil {
		dst = make([]float64, r.n/2+1)
	}
	checkLen("dst", len(dst), r.n/2+1)
	r.plan.power(dst, src)
	return dst
}

// PowerWith is [Real.Power] with a context, see [Real.ForwardWith].
func (r *Real) PowerWith(ctx context.Context, dst []float64, src []float64) ([]float64, error) {
	if err := r.watch.until(ctx, func() { dst = r.Power(dst, src) }); err != nil {
		return nil, err
	}
	return dst, nil
}
