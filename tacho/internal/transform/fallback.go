package transform

import "gonum.org/v1/gonum/dsp/fourier"

// realGonum transforms real samples of lengths that have no fast path here.
type realGonum struct {
	fft  *fourier.FFT
	line []complex128 // n/2+1 coefficients
}

func (g *realGonum) forward(dst []complex128, src []float64) { g.fft.Coefficients(dst, src) }
func (g *realGonum) inverse(dst []float64, src []complex128) { g.fft.Sequence(dst, src) }
func (g *realGonum) power(dst, src []float64)                { squares(dst, g.fft.Coefficients(g.line, src)) }
func (g *realGonum) clone(*watch) realPlan {
	return &realGonum{fourier.NewFFT(g.fft.Len()), make([]complex128, len(g.line))}
}

// complexGonum does the same for complex samples.
type complexGonum struct{ fft *fourier.CmplxFFT }

func (g *complexGonum) forward(dst, src []complex128) { g.fft.Coefficients(dst, src) }
func (g *complexGonum) inverse(dst, src []complex128) { g.fft.Sequence(dst, src) }
func (g *complexGonum) clone(*watch) complexPlan {
	return &complexGonum{fourier.NewCmplxFFT(g.fft.Len())}
}

// squares sets dst to |x|².
func squares(dst []float64, x []complex128) {
	for k, x := range x {
		dst[k] = real(x)*real(x) + imag(x)*imag(x)
	}
}
