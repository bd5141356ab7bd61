package tacho

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sort"

	"rotorhum/tacho/internal/rank"
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
// most max of them (all for max <= 0).
//
// A line is a local maximum at least 14 dB above the median of the 64 bins on
// either side, and too high to be a side lobe of a stronger one. Two tones
// closer than the spectrum's Resolution are one peak between them. A tone in
// the lowest two or highest two bins is not read.
//
// It is read between the bins by HannThreeLine for Hann and by Candan2013 for
// Rectangle, where there is no padding, and otherwise from the ratio of its two
// shoulders, half a line's width to either side, and the known shape of the
// window: without noise and neighbours to 10⁻⁴ of a block's bin with any window.
//
// The context of a watch ends the search early; there are no peaks then.
func (s *Spectrum) Peaks(max int, watch ...Watch) []Peak {
	response := s.Window.paddedResponse(min(s.N, figureLen))
	return s.peaks(contextOf(watch), s.ownReading(response), response, max)
}

// PeaksBy is Peaks with a choice of the interpolator, which is given the highest
// bin and its neighbours. It returns ErrOption if that needs phases and blocks
// were averaged, and the error of the watch's context if that ends first.
func (s *Spectrum) PeaksBy(by Interpolator, max int, watch ...Watch) ([]Peak, error) {
	if by.NeedsPhase() && s.coefficients == nil {
		return nil, optionError("%v needs phases, which averaging %d blocks has lost: use LogParabola", by, s.Blocks)
	}
	response := s.Window.paddedResponse(min(s.N, figureLen))
	peaks := s.peaks(contextOf(watch), s.readingBy(by), response, max)
	return peaks, ended(contextOf(watch))
}

// peaks finds the lines and reads each of them.
func (s *Spectrum) peaks(ctx context.Context, how binReader, response []float64, most int) []Peak {
	floor := s.floor(ctx)
	var tops []int
	strongest := 0.0
	for from, to := range pieces(ctx, s.Len()-2) {
		for k := max(2, from); k < to; k++ {
			if s.power[k] > s.power[k-1] && s.power[k] >= s.power[k+1] {
				tops = append(tops, k)
				strongest = math.Max(strongest, s.power[k])
			}
		}
	}
	if ended(ctx) != nil {
		return nil
	}
	least := strongest * math.Pow(10, roundingDB/10)
	above := math.Pow(10, peakSNR/10.0)
	tops = slices.DeleteFunc(tops, func(k int) bool { return s.power[k] < least || s.power[k] < floor[k]*above })
	sort.SliceStable(tops, func(i, j int) bool { return s.power[tops[i]] > s.power[tops[j]] })
	leakage := s.leakage(response)
	var found []int
	for _, k := range tops {
		if most > 0 && len(found) == most || ended(ctx) != nil {
			break
		}
		if !leakage.explains(s.power, k, found) {
			found = append(found, k)
		}
	}
	peaks := make([]Peak, len(found))
	noise := s.noiseCovariance(how.step)
	for i, k := range found {
		peaks[i] = s.read(how, k, floor[k], noise)
	}
	if ended(ctx) != nil {
		return nil
	}
	return peaks
}

// Floor returns the noise around each bin, as a mean |X(k)|² in the scale of
// the transform, unscaled: it is estimated from the median of the bins around,
// which a few lines do not move. The context of a watch ends the work early; there
// is no floor then.
func (s *Spectrum) Floor(watch ...Watch) []float64 {
	floor := s.floor(contextOf(watch))
	if ended(contextOf(watch)) != nil {
		return nil
	}
	return floor
}

func (s *Spectrum) floor(ctx context.Context) []float64 {
	// The median of an average of b exponential variables over their mean, for
	// b = 1 exactly ln 2 (Wilson and Hilferty 1931).
	b := float64(s.Blocks)
	ratio := math.Pow(1-1/(9*b), 3)
	if s.Blocks == 1 {
		ratio = math.Ln2
	}
	half := floorBins * s.NFFT / s.N
	return runningMedian(ctx, s.power, half, 1/ratio)
}

// runningMedian returns scale times the median of x within half points of each,
// evaluated at every quarter of that distance and held in between.
func runningMedian(ctx context.Context, x []float64, half int, scale float64) []float64 {
	out := make([]float64, len(x))
	step := max(1, half/4)
	scratch := make([]float64, 0, 2*half+1)
	for k := 0; k < len(x) && ended(ctx) == nil; k += step {
		lo, hi := max(0, k-half), min(len(x), k+half+1)
		scratch = append(scratch[:0], x[lo:hi]...)
		m := scale * rank.Select(scratch, len(scratch)/2)
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

func (s *Spectrum) leakage(r []float64) *leakage {
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
