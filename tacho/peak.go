package tacho

import (
	"fmt"
	"math"
	"math/cmplx"
	"sort"
)

// Peak is a line in a spectrum: a tone read between the bins.
type Peak struct {
	// Bin is the highest bin, Offset how many bins above its centre the tone
	// lies, negative below.
	Bin    int
	Offset float64
	// Freq is the frequency of the tone, FreqU the standard uncertainty that
	// noise gives it (0 in a spectrum without noise). The clock of the recorder
	// and neighbouring lines are not in it.
	Freq, FreqU Hertz
	// Amp is the amplitude of the tone (peak, full scale = 1), what the window
	// loses between the bins put back.
	Amp float64
	// Phase is the phase of the cosine at the first sample in radians; NaN when
	// blocks were averaged.
	Phase float64
	// SNR is the height of the highest bin over the noise around it, in dB.
	SNR float64
}

// DB returns Amp in decibels relative to a full-scale sine.
func (p Peak) DB() float64 { return decibels(p.Amp) }

// Tone returns the frequency as a Value with the contribution "noise".
func (p Peak) Tone() Value { return Measured(float64(p.Freq), float64(p.FreqU), "Hz", "noise") }

// String prints frequency and level.
func (p Peak) String() string {
	return fmt.Sprintf("%s at %s dB", p.Tone(), formatDB(p.DB()))
}

const (
	// peakSNR is how far a bin must stand above the noise around it to be a
	// peak, in dB: white noise of one block gets there once in 10⁷ bins.
	peakSNR = 14
	// floorBins is how many bins on each side are looked at for the noise.
	floorBins = 64
	// roundingDB is how far below the strongest line rounding errors may reach.
	roundingDB = -240
)

// Peaks returns the strongest lines of the spectrum, the strongest first, at
// most max of them (all for max <= 0). It reads them by HannTwoLine for Hann
// and by Candan2013 for Rectangle where these apply, else by LogParabola; see
// [Spectrum.PeaksBy].
//
// A line is a local maximum at least 14 dB above the median of the 64 bins on
// either side, and too high to be a side lobe of a stronger one. Two tones
// closer than the spectrum's Resolution are one peak between them. A tone in
// the lowest two or highest two bins is not read.
func (s *Spectrum) Peaks(max int) []Peak {
	by := LogParabola
	if s.N == s.NFFT {
		switch {
		case s.Window.design() == Hann.design():
			by = HannTwoLine
		case s.Window == Rectangle && s.coefficients != nil:
			by = Candan2013
		}
	}
	peaks, _ := s.PeaksBy(by, max)
	return peaks
}

// PeaksBy is Peaks with a choice of the interpolator. It returns ErrOption if
// that needs phases and blocks were averaged.
func (s *Spectrum) PeaksBy(by Interpolator, max int) ([]Peak, error) {
	if by.NeedsPhase() && s.coefficients == nil {
		return nil, optionError("%v needs phases, which averaging %d blocks has lost: use LogParabola", by, s.Blocks)
	}
	floor := s.Floor()
	var tops []int
	strongest := 0.0
	for k := 2; k+2 < s.Len(); k++ {
		if s.power[k] > s.power[k-1] && s.power[k] >= s.power[k+1] {
			tops = append(tops, k)
			strongest = math.Max(strongest, s.power[k])
		}
	}
	sort.SliceStable(tops, func(i, j int) bool { return s.power[tops[i]] > s.power[tops[j]] })
	least := strongest * math.Pow(10, roundingDB/10)
	leakage := s.leakage()
	var found []int
	for _, k := range tops {
		if max > 0 && len(found) == max {
			break
		}
		if s.power[k] < least || s.power[k] < floor[k]*math.Pow(10, peakSNR/10.0) {
			continue
		}
		if !leakage.explains(s.power, k, found) {
			found = append(found, k)
		}
	}
	peaks := make([]Peak, len(found))
	noise := s.noiseCovariance()
	for i, k := range found {
		peaks[i] = s.read(by, k, floor[k], noise)
	}
	return peaks, nil
}

// Floor returns the noise around each bin, as a mean |X(k)|² in the scale of
// the transform, unscaled: it is estimated from the median of the bins around,
// which a few lines do not move.
func (s *Spectrum) Floor() []float64 {
	// The median of an average of b exponential variables over their mean, for
	// b = 1 exactly ln 2 (Wilson and Hilferty 1931).
	b := float64(s.Blocks)
	ratio := math.Pow(1-1/(9*b), 3)
	if s.Blocks == 1 {
		ratio = math.Ln2
	}
	half := floorBins * s.NFFT / s.N
	return runningMedian(s.power, half, 1/ratio)
}

// runningMedian returns scale times the median of x within half points of each,
// evaluated at every quarter of that distance and held in between.
func runningMedian(x []float64, half int, scale float64) []float64 {
	out := make([]float64, len(x))
	step := max(1, half/4)
	scratch := make([]float64, 0, 2*half+1)
	for k := 0; k < len(x); k += step {
		lo, hi := max(0, k-half), min(len(x), k+half+1)
		scratch = append(scratch[:0], x[lo:hi]...)
		sort.Float64s(scratch)
		m := scale * scratch[len(scratch)/2]
		for i := k; i < min(k+step, len(x)); i++ {
			out[i] = m
		}
	}
	return out
}

// leakage bounds how much of a tone's power a window lets into bins further
// away.
type leakage struct {
	bound  []float64 // relative power at or beyond i/16 bins of the block
	perBin float64   // 16ths of a bin of the block to a bin of the transform
	clear  float64   // distance within which there is only the tone itself
}

func (s *Spectrum) leakage() *leakage {
	n := min(s.N, figureLen)
	r := s.Window.paddedResponse(n)
	l := &leakage{bound: make([]float64, len(r)), perBin: lobePadding * float64(s.N) / float64(s.NFFT)}
	l.clear = float64(firstNull(r))
	high := 0.0
	for i := len(r) - 1; i >= 0; i-- {
		high = math.Max(high, r[i]*r[i])
		l.bound[i] = high
	}
	return l
}

// explains reports whether the power in bin k may all have leaked there from
// the stronger peaks found before. The frequency of each may be half a bin off
// either way, its height too low by the scallop, and lobes may add in phase.
func (l *leakage) explains(power []float64, k int, found []int) bool {
	const margin = 2 // dB of scalloping and a neighbour's help
	amplitude := 0.0
	for _, f := range found {
		away := math.Abs(float64(k-f)) * l.perBin
		if away < l.clear {
			return true
		}
		i := min(int(math.Max(0, away-lobePadding/2)), len(l.bound)-1)
		amplitude += math.Sqrt(power[f] * l.bound[i])
	}
	return math.Sqrt(power[k]) < margin*amplitude
}

// read reads the tone around bin k.
func (s *Spectrum) read(by Interpolator, k int, floor float64, noise *binNoise) Peak {
	var bins [3]complex128
	for i := range bins {
		if X, ok := s.Coefficient(k - 1 + i); ok {
			bins[i] = X
		} else {
			// The phases that a tone in the middle of its block would have.
			bins[i] = cmplx.Rect(math.Sqrt(s.power[k-1+i]), -math.Pi*float64(i*s.N)/float64(s.NFFT))
		}
	}
	d := by.Offset(bins[0], bins[1], bins[2], s.N)
	n := min(s.N, figureLen)
	inBlockBins := d * float64(s.N) / float64(s.NFFT)
	p := Peak{
		Bin: k, Offset: d,
		Freq:  Hertz((float64(k) + d) * s.DF),
		FreqU: Hertz(s.DF * noise.offsetU(by, bins, floor, s)),
		Amp:   s.Amplitude(k) / s.Window.Response(n, inBlockBins),
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

// binNoise is the covariance of white noise between neighbouring bins, for
// noise that has a mean |X|² of 1: E[X(k) X*(k+m)], m = 0, 1, 2.
type binNoise [3]complex128

func (s *Spectrum) noiseCovariance() *binNoise {
	var c binNoise
	for j, w := range s.Window.Weights(s.N) {
		for m := range c {
			phase := 2 * math.Pi * float64(m) * float64(j) / float64(s.NFFT)
			c[m] += cmplx.Rect(w*w/s.squares, phase)
		}
	}
	return &c
}

// offsetU returns the standard deviation that noise with a mean |X|² of floor
// gives the offset, in bins: to first order, from the change of the offset with
// the real and imaginary parts of each bin.
func (c *binNoise) offsetU(by Interpolator, bins [3]complex128, floor float64, s *Spectrum) float64 {
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
			return (by.Offset(up[0], up[1], up[2], s.N) - by.Offset(down[0], down[1], down[2], s.N)) / (2 * h)
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
	return math.Sqrt(math.Max(0, real(sum)) / 2 * floor / float64(s.Blocks))
}
