package tacho

import (
	"math"
	"math/cmplx"
)

// binReader finds the offset of a tone from three bins, step bins apart.
type binReader struct {
	step   int
	offset func(bins [3]complex128) float64
}

func (s *Spectrum) readingBy(by Interpolator) binReader {
	return binReader{1, func(b [3]complex128) float64 { return by.Offset(b[0], b[1], b[2], s.N) }}
}

// ownReading chooses the reading that suits the window and the padding.
func (s *Spectrum) ownReading(response []float64) binReader {
	if s.N == s.NFFT {
		switch {
		case s.Window.design() == Hann.design():
			return s.readingBy(HannThreeLine)
		case s.Window == Rectangle && s.coefficients != nil:
			return s.readingBy(Candan2013)
		}
	}
	return s.shoulders(response)
}

// shoulders reads the offset from the bins half a line's width below and above
// the highest: their ratio grows steadily as the tone moves from one to the
// other, as the response of the window says.
//
// Where that is too far out on the slopes of the line, as for Rectangle and
// Welch without padding, it reads the larger neighbour against the highest bin.
func (s *Spectrum) shoulders(response []float64) binReader {
	perBin := float64(s.N) / float64(s.NFFT)
	step := max(1, int(math.Round(within(response, math.Sqrt(0.5))/perBin)))
	// The highest bin may lie anywhere on the crest: noise and ripple decide.
	limit := max(0.6, within(response, 0.9)/perBin)
	log := func(bins float64) float64 { return logResponse(response, bins*perBin) }
	null := float64(firstNull(response)) / lobePadding
	if (float64(step)+limit)*perBin < null {
		return binReader{step, func(b [3]complex128) float64 {
			want := math.Log(cmplx.Abs(b[2])) - math.Log(cmplx.Abs(b[0]))
			return solve(want, limit, func(d float64) float64 { return log(float64(step)-d) - log(float64(step)+d) })
		}}
	}
	return binReader{1, func(b [3]complex128) float64 {
		side, sign := cmplx.Abs(b[2]), 1.0
		if left := cmplx.Abs(b[0]); left > side {
			side, sign = left, -1
		}
		want := math.Log(side) - math.Log(cmplx.Abs(b[1]))
		return sign * math.Max(0, solve(want, limit, func(d float64) float64 { return log(1-d) - log(d) }))
	}}
}

// within returns how far out, in bins, a padded response stays above a height.
func within(response []float64, height float64) float64 {
	i := 0
	for i+1 < len(response) && response[i+1] > height {
		i++
	}
	return float64(i) / lobePadding
}

// solve returns the d within ±limit at which a growing function is nearest to
// want; 0 if want is not a number.
func solve(want, limit float64, growing func(d float64) float64) float64 {
	if math.IsNaN(want) {
		return 0
	}
	lo, hi := -limit, limit
	for range 50 { // halves the range down to rounding error
		if mid := (lo + hi) / 2; growing(mid) < want {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// logResponse returns the logarithm of a padded response at an offset in bins,
// by a cubic through four points.
func logResponse(response []float64, offset float64) float64 {
	at := math.Abs(offset) * lobePadding
	i := int(at)
	if i+2 >= len(response) {
		return math.Log(response[len(response)-1])
	}
	u := at - float64(i)
	before := response[1] // the response is even
	if i > 0 {
		before = response[i-1]
	}
	a, b, c, d := math.Log(before), math.Log(response[i]), math.Log(response[i+1]), math.Log(response[i+2])
	return b + u/6*(-2*a-3*b+6*c-d+u*(3*(a-2*b+c)+u*(-a+3*b-3*c+d)))
}

// read reads the tone around bin k.
func (s *Spectrum) read(how binReader, k int, floor float64, noise binNoise) Peak {
	var bins [3]complex128
	for i := range bins {
		at := min(max(0, k+(i-1)*how.step), s.Len()-1)
		if X, ok := s.Coefficient(at); ok {
			bins[i] = X
		} else {
			// The phases that a tone in the middle of its block would have.
			bins[i] = cmplx.Rect(math.Sqrt(s.power[at]), -math.Pi*float64(i*how.step*s.N)/float64(s.NFFT))
		}
	}
	d := how.offset(bins)
	inBlockBins := d * float64(s.N) / float64(s.NFFT)
	p := Peak{
		Bin: k, Offset: d,
		Freq:  Hertz((float64(k) + d) * s.DF),
		FreqU: Hertz(s.DF * noise.offsetU(how, bins, floor/float64(s.Blocks))),
		Amp:   s.Amplitude(k) / s.Window.Response(min(s.N, figureLen), inBlockBins),
		Phase: math.NaN(),
		SNR:   10 * math.Log10(s.power[k]/floor),
	}
	if s.coefficients != nil {
		// The middle of a periodic window is at sample N/2: a tone d bins away
		// has turned by πd·N/NFFT there, which the bin shows.
		p.Phase = math.Remainder(cmplx.Phase(bins[1])-math.Pi*inBlockBins, 2*math.Pi)
	}
	return p
}

// binNoise is the covariance of white noise between three bins, for noise that
// has a mean |X|² of 1: E[X(k) X*(k+m·step)] for m = 0, 1, 2.
type binNoise [3]complex128

func (s *Spectrum) noiseCovariance(step int) binNoise {
	// That of a shorter block is the same but for the ends of the window.
	n := min(s.N, covarianceLen)
	turn := float64(s.N) / float64(s.NFFT) / float64(n)
	var c binNoise
	squares := 0.0
	for j, w := range s.Window.Weights(n) {
		squares += w * w
		for m := range c {
			phase := 2 * math.Pi * math.Mod(float64(m*step)*float64(j)*turn, 1)
			c[m] += cmplx.Rect(w*w, phase)
		}
	}
	for m := range c {
		c[m] /= complex(squares, 0)
	}
	return c
}

// covarianceLen is a block length at which the covariance of noise has settled to
// better than 10⁻⁴ with any window.
const covarianceLen = 1 << 16

// offsetU returns the standard deviation that noise with a mean |X|² of floor
// gives the offset, in bins: to first order, from the change of the offset with
// the real and imaginary parts of each bin.
func (c binNoise) offsetU(how binReader, bins [3]complex128, floor float64) float64 {
	if floor <= 0 {
		return 0
	}
	h := 1e-4 * cmplx.Abs(bins[1])
	var gradient [3]complex128 // ∂δ/∂Re + i ∂δ/∂Im
	for i := range bins {
		slope := func(step complex128) float64 {
			up, down := bins, bins
			up[i] += step
			down[i] -= step
			return (how.offset(up) - how.offset(down)) / (2 * h)
		}
		gradient[i] = complex(slope(complex(h, 0)), slope(complex(0, h)))
	}
	// For circular noise Var(Re Σ g* X) = ½ Σ g_i* g_j E[X_i X_j*].
	var sum complex128
	for i := range gradient {
		for j := range gradient {
			e := c[max(i-j, j-i)]
			if i > j {
				e = cmplx.Conj(e)
			}
			sum += cmplx.Conj(gradient[i]) * gradient[j] * e
		}
	}
	return math.Sqrt(math.Max(0, real(sum)) / 2 * floor)
}
