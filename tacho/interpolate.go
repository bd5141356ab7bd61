package tacho

import (
	"math"
	"math/cmplx"
)

// Interpolator reads the frequency of a tone between the bins of a spectrum,
// from the highest bin and its two neighbours. Interpolators may be compared
// with ==.
type Interpolator struct{ d *interpolation }

type interpolation struct {
	name    string
	complex bool // needs the phases of the bins
	offset  func(l, c, r complex128, n int) float64
}

// The interpolators. The first four need only the heights of the bins, the
// others their phases too and a rectangular window without padding, and n, the
// number of samples. None of them is for flat-tops, whose lines have no point:
// [Spectrum.Peaks] reads those from their shoulders.
//
// The largest errors, without noise and with a rectangular window of n = 64 for
// the second group, are in bins:
//
//	Parabola       0.053 Hann, 0.044 Blackman, 0.234 Rectangle
//	LogParabola    0.016 Hann, 0.0066 Blackman, 0.167 Rectangle
//	HannTwoLine    0 with Hann, useless with others
//	HannThreeLine  0 with Hann, useless with others
//	Jacobsen       3.0e-4, as are Quinn1, Quinn2, Macleod; falls as 1/n²
//	Candan2011     1.0e-4, falls as 1/n²
//	Candan2013     0
var (
	// Parabola lays a parabola through three amplitudes.
	Parabola = Interpolator{&interpolation{"parabola", false, func(l, c, r complex128, _ int) float64 {
		return vertex(cmplx.Abs(l), cmplx.Abs(c), cmplx.Abs(r))
	}}}
	// LogParabola lays a parabola through the logarithms of three amplitudes
	// (M. Gasior and J. L. Gonzalez, CERN AB-Note-2004-021): a good choice for
	// any window but Rectangle and the flat-tops, exact for a Gaussian one.
	LogParabola = Interpolator{&interpolation{"log parabola", false, func(l, c, r complex128, _ int) float64 {
		return vertex(math.Log(cmplx.Abs(l)), math.Log(cmplx.Abs(c)), math.Log(cmplx.Abs(r)))
	}}}
	// HannTwoLine takes the ratio of the two highest lines of a Hann window,
	// which is exact there (D. C. Rife and G. A. Vincent 1970; T. Grandke 1983):
	//	δ = (2a-1)/(1+a), a = the larger neighbour over the highest
	// Near the centre of a bin noise decides which neighbour is the larger, and
	// the answer jumps: HannThreeLine does better there.
	HannTwoLine = Interpolator{&interpolation{"Hann two-line", false, func(l, c, r complex128, _ int) float64 {
		side, sign := cmplx.Abs(r), 1.0
		if left := cmplx.Abs(l); left > side {
			side, sign = left, -1
		}
		a := side / cmplx.Abs(c)
		return sign * (2*a - 1) / (1 + a)
	}}}
	// HannThreeLine takes both neighbours of a Hann window, which is exact too:
	//	δ = 2(R-L)/(L+2C+R)
	HannThreeLine = Interpolator{&interpolation{"Hann three-line", false, func(l, c, r complex128, _ int) float64 {
		left, centre, right := cmplx.Abs(l), cmplx.Abs(c), cmplx.Abs(r)
		return 2 * (right - left) / (left + 2*centre + right)
	}}}
	// Jacobsen is δ = Re[(L-R)/(2C-L-R)] (E. Jacobsen and P. Kootsookos 2007).
	Jacobsen = Interpolator{&interpolation{"Jacobsen", true, func(l, c, r complex128, _ int) float64 {
		return jacobsen(l, c, r)
	}}}
	// Candan2011 is Jacobsen times tan(π/n)/(π/n) (Ç. Candan 2011).
	Candan2011 = Interpolator{&interpolation{"Candan 2011", true, func(l, c, r complex128, n int) float64 {
		x := math.Pi / float64(n)
		return jacobsen(l, c, r) * math.Tan(x) / x
	}}}
	// Candan2013 is (n/π) atan(tan(π/n)·Jacobsen) (Ç. Candan 2013).
	Candan2013 = Interpolator{&interpolation{"Candan 2013", true, func(l, c, r complex128, n int) float64 {
		x := math.Pi / float64(n)
		return math.Atan(math.Tan(x)*jacobsen(l, c, r)) / x
	}}}
	// Quinn1 is the first estimator of B. G. Quinn 1994.
	Quinn1 = Interpolator{&interpolation{"Quinn 1", true, func(l, c, r complex128, _ int) float64 {
		below, above := quinnOffsets(l, c, r)
		if below > 0 && above > 0 {
			return above
		}
		return below
	}}}
	// Quinn2 is the second estimator of B. G. Quinn 1997, with
	//	τ(x) = ln(3x²+6x+1)/4 - √6/24 ln((x+1-√(2/3))/(x+1+√(2/3)))
	Quinn2 = Interpolator{&interpolation{"Quinn 2", true, func(l, c, r complex128, _ int) float64 {
		below, above := quinnOffsets(l, c, r)
		return (below+above)/2 + quinnTau(above*above) - quinnTau(below*below)
	}}}
	// Macleod is the three-point estimator of M. D. Macleod 1998.
	Macleod = Interpolator{&interpolation{"Macleod", true, func(l, c, r complex128, _ int) float64 {
		ref := cmplx.Conj(c)
		left, centre, right := real(l*ref), real(c*ref), real(r*ref)
		g := (left - right) / (2*centre + left + right)
		if g == 0 {
			return 0
		}
		return (math.Sqrt(1+8*g*g) - 1) / (4 * g)
	}}}
)

// Interpolators returns every interpolator.
func Interpolators() []Interpolator {
	return []Interpolator{Parabola, LogParabola, HannTwoLine, HannThreeLine, Jacobsen, Candan2011, Candan2013, Quinn1, Quinn2, Macleod}
}

// vertex returns where a parabola through three points one apart is highest,
// relative to the middle one.
func vertex(l, c, r float64) float64 { return (l - r) / (2 * (l - 2*c + r)) }

func jacobsen(l, c, r complex128) float64 { return real((l - r) / (2*c - l - r)) }

func quinnOffsets(l, c, r complex128) (below, above float64) {
	a, b := real(l/c), real(r/c)
	return a / (1 - a), -b / (1 - b)
}

func quinnTau(x float64) float64 {
	root := math.Sqrt(2.0 / 3)
	return math.Log(3*x*x+6*x+1)/4 - math.Sqrt(6)/24*math.Log((x+1-root)/(x+1+root))
}

func (p Interpolator) interpolation() *interpolation {
	if p.d == nil {
		return LogParabola.d
	}
	return p.d
}

// Name returns the name of the interpolator.
func (p Interpolator) Name() string { return p.interpolation().name }

// String returns the name.
func (p Interpolator) String() string { return p.Name() }

// NeedsPhase reports whether it uses the phases of the bins, so that averaged
// spectra will not do.
func (p Interpolator) NeedsPhase() bool { return p.interpolation().complex }

// Offset returns how far the tone lies from the centre of the highest bin, in
// bins, above it when positive. l, c and r are the coefficients below, at and
// above it; n is the number of samples. It is 0 where the three allow no answer,
// and never beyond ±1.
func (p Interpolator) Offset(l, c, r complex128, n int) float64 {
	d := p.interpolation().offset(l, c, r, n)
	if math.IsNaN(d) || math.IsInf(d, 0) {
		return 0
	}
	return max(-1, min(1, d))
}
