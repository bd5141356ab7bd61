package tacho

import (
	"math"
	"math/cmplx"
	"testing"
)

// threeBins returns the three bins around the highest for a complex tone d bins
// above bin k, through a window, without noise.
func threeBins(weights []float64, k int, d float64) [3]complex128 {
	n := float64(len(weights))
	var bins [3]complex128
	for i := range bins {
		away := d - float64(i-1) // the tone seen from bin k-1+i
		for j, w := range weights {
			bins[i] += cmplx.Rect(w, 2*math.Pi*away*float64(j)/n+0.3)
		}
	}
	return bins
}

// worstBias returns the largest error over offsets of -0.5 to 0.5 bins.
func worstBias(by Interpolator, weights []float64) float64 {
	worst := 0.0
	for i := -50; i <= 50; i++ {
		d := float64(i) / 100
		b := threeBins(weights, 0, d)
		worst = math.Max(worst, math.Abs(by.Offset(b[0], b[1], b[2], len(weights))-d))
	}
	return worst
}

// M. Gasior and J. L. Gonzalez, "Improving FFT frequency measurement resolution
// by parabolic and Gaussian spectrum interpolation", CERN AB-Note-2004-021
// (their table from memory; recomputed independently): the largest error of a
// parabola through three bins.
func TestParabolaBias(t *testing.T) {
	const n = 1024
	const tol = 0.012 // relative; the figures are printed to two or three digits
	for _, c := range []struct {
		w           Window
		linear, log float64
	}{
		{Rectangle, 0.234, 0.167},
		{Bartlett, 0.0692, 0.0208},
		{Hann, 0.0528, 0.0160},
		{Hamming, 0.0680, 0.0162},
		{Blackman, 0.0438, 0.0066},
		{BlackmanHarris, 0.0340, 0.0032},
		{Nuttall4c, 0.0351, 0.00314},
	} {
		if got := worstBias(Parabola, c.w.Weights(n)); math.Abs(got/c.linear-1) > tol {
			t.Errorf("%s: parabola errs by up to %.5f bins, published %g", c.w, got, c.linear)
		}
		if got := worstBias(LogParabola, c.w.Weights(n)); math.Abs(got/c.log-1) > tol {
			t.Errorf("%s: log parabola errs by up to %.5f bins, published %g", c.w, got, c.log)
		}
	}
	// A Gaussian truncated at 3 and 4 standard deviations either side, the
	// window for which the logarithm is made.
	for alpha, want := range map[float64]float64{3: 0.0024, 3.5: 0.000515, 4: 0.0000869} {
		w := make([]float64, n)
		for j := range w {
			u := alpha * (2*float64(j)/n - 1)
			w[j] = math.Exp(-u * u / 2)
		}
		if got := worstBias(LogParabola, w); math.Abs(got/want-1) > tol {
			t.Errorf("Gaussian, %g standard deviations: log parabola errs by up to %.3g bins, published %g", alpha, got, want)
		}
	}
}

// The biases of the phase interpolators for a complex tone and a rectangular
// window: Ç. Candan, "A method for fine resolution frequency estimation from
// three DFT samples", IEEE SPL 18 (2011), and the author's published script;
// Quinn and Macleod have the bias of Jacobsen. Recomputed with numpy 1.24.
func TestPhaseInterpolatorBias(t *testing.T) {
	for n, want := range map[int]struct{ jacobsen, candan2011 float64 }{
		8:    {1.97831e-2, 6.52618e-3},
		16:   {4.85028e-3, 1.61260e-3},
		64:   {3.01317e-4, 1.00423e-4},
		256:  {1.88252e-5, 6.27502e-6},
		1024: {1.17655e-6, 3.92183e-7},
	} {
		w := Rectangle.Weights(n)
		for _, by := range []Interpolator{Jacobsen, Quinn1, Quinn2, Macleod} {
			if got := worstBias(by, w); math.Abs(got/want.jacobsen-1) > 0.02 {
				t.Errorf("%v, n = %d: errs by up to %.5g bins, published %.5g", by, n, got, want.jacobsen)
			}
		}
		if got := worstBias(Candan2011, w); math.Abs(got/want.candan2011-1) > 0.02 {
			t.Errorf("Candan 2011, n = %d: errs by up to %.5g bins, published %.5g", n, got, want.candan2011)
		}
		if got := worstBias(Candan2013, w); got > 1e-12 {
			t.Errorf("Candan 2013, n = %d: errs by up to %.3g bins, published 0", n, got)
		}
	}
}

// D. C. Rife and G. A. Vincent 1970, T. Grandke 1983: two lines of a Hann window
// give the frequency exactly, for n → ∞.
func TestHannLinesAreExact(t *testing.T) {
	for _, by := range []Interpolator{HannTwoLine, HannThreeLine} {
		for n, tol := range map[int]float64{64: 1e-6, 1024: 1e-9} {
			if got := worstBias(by, Hann.Weights(n)); got > tol {
				t.Errorf("%v, n = %d: errs by up to %.3g bins, want 0", by, n, got)
			}
		}
	}
}

func TestOffsetOfNothing(t *testing.T) {
	for _, by := range append(Interpolators(), Interpolator{}) {
		for _, bins := range [][3]complex128{{}, {1, 1, 1}, {0, 1, 0}, {1, 0, 1}, {0, 0, 1}, {complex(math.NaN(), 0), 1, 0}, {complex(math.Inf(1), 0), 1, 2}, {2, 1, 0}} {
			if d := by.Offset(bins[0], bins[1], bins[2], 16); math.IsNaN(d) || math.Abs(d) > 1 {
				t.Errorf("%v.Offset%v = %v, want a number within ±1", by, bins, d)
			}
		}
		if by.Name() == "" {
			t.Errorf("%v has no name", by)
		}
	}
}
