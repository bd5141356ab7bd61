package tacho

import (
	"math"
	"sync"

	"rotorhum/tacho/internal/transform"
)

// WindowFigures are the figures of merit of a window for blocks of N samples.
type WindowFigures struct {
	Name           string
	N              int
	CoherentGain   float64 // mean weight: how much a line loses in height
	ENBW           float64 // equivalent noise bandwidth in bins
	Width3dB       float64 // of the main lobe at -3.000 dB, in bins
	HalfPowerWidth float64 // of the main lobe at half power, -3.0103 dB, in bins
	Scallop        float64 // loss halfway between two bins, in dB
	Flatness       float64 // largest error within half a bin, in dB with sign
	SideLobe       float64 // highest side lobe, in dB relative to the main lobe
	Overlap        float64 // recommended overlap, as a share of the block
}

// Figures returns all figures of merit of the periodic window of n samples.
// It panics if n < 8, too few for a window to be told from another.
func (w Window) Figures(n int) WindowFigures {
	return WindowFigures{
		Name: w.Name(), N: n,
		CoherentGain: w.CoherentGain(n), ENBW: w.ENBW(n),
		Width3dB: w.Width3dB(n), HalfPowerWidth: w.HalfPowerWidth(n),
		Scallop: w.Scallop(n), Flatness: w.Flatness(n), SideLobe: w.SideLobe(n),
		Overlap: w.Overlap(),
	}
}

// CoherentGain returns the mean of the n weights: the factor by which the
// window lowers the height of a line.
func (w Window) CoherentGain(n int) float64 {
	sum, _ := w.sums(n)
	return sum / float64(n)
}

// ENBW returns the equivalent noise bandwidth in bins, n Σw²/(Σw)²: white noise
// reads as much in a bin as an ideal filter of this width would pass (Heinzel
// 2002, equation 21). Times fs/n it is in hertz.
func (w Window) ENBW(n int) float64 {
	sum, squares := w.sums(n)
	return float64(n) * squares / (sum * sum)
}

// sums returns Σw and Σw² of the n weights.
func (w Window) sums(n int) (sum, squares float64) {
	for _, x := range w.Weights(n) {
		sum += x
		squares += x * x
	}
	return sum, squares
}

// Response returns how high a tone reads that lies offset bins away from the
// centre of a bin, relative to one at the centre: |W(offset)| / |W(0)|, with
//
//	W(d) = Σ w(j) exp(-2πi j d/n),  j = 0 … n-1.
func (w Window) Response(n int, offset float64) float64 {
	return newLobe(w, n).at(offset)
}

// lobe evaluates the transform of a window between the bins.
type lobe struct {
	weights []float64
	sum     float64
}

func newLobe(w Window, n int) *lobe {
	l := &lobe{weights: w.Weights(n)}
	for _, x := range l.weights {
		l.sum += x
	}
	return l
}

func (l *lobe) at(offset float64) float64 {
	step := 2 * math.Pi * offset / float64(len(l.weights))
	var re, im float64
	for j, x := range l.weights {
		s, c := math.Sincos(step * float64(j))
		re += x * c
		im -= x * s
	}
	return math.Hypot(re, im) / math.Abs(l.sum)
}

// width returns the full width of the main lobe at the given relative height.
func (l *lobe) width(height float64) float64 {
	hi := 0.25
	for l.at(hi) > height {
		hi += 0.25
	}
	lo := hi - 0.25
	for range 50 { // halves a quarter bin down to rounding error
		mid := (lo + hi) / 2
		if l.at(mid) > height {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo + hi
}

// Width3dB returns the width of the main lobe in bins, from edge to edge, at
// exactly -3.000 dB, as Heinzel 2002 defines it.
func (w Window) Width3dB(n int) float64 { return newLobe(w, n).width(math.Pow(10, -3.0/20)) }

// HalfPowerWidth returns the width of the main lobe in bins, from edge to edge,
// at half power or -3.0103 dB, as Harris 1978 defines it: 0.2 % more.
func (w Window) HalfPowerWidth(n int) float64 { return newLobe(w, n).width(math.Sqrt(0.5)) }

// Scallop returns the loss in decibels, as a positive number, of a tone halfway
// between two bins.
func (w Window) Scallop(n int) float64 { return -decibels(w.Response(n, 0.5)) }

// WorstCaseLoss returns Scallop and the bandwidth together, 10 log10(ENBW) more:
// how much worse than the best case a tone can stand out of white noise (Harris
// 1978, "worst case processing loss"), in dB.
func (w Window) WorstCaseLoss(n int) float64 { return w.Scallop(n) + 10*math.Log10(w.ENBW(n)) }

// Flatness returns the largest error in decibels, with its sign, of the height
// of a tone within half a bin of the centre (Heinzel 2002, e_max).
func (w Window) Flatness(n int) float64 {
	l := newLobe(w, n)
	worst := 0.0
	const steps = 200 // the extremes are flat: an error of 1/800 bin changes nothing
	for i := 1; i <= steps; i++ {
		if e := decibels(l.at(0.5 * float64(i) / steps)); math.Abs(e) > math.Abs(worst) {
			worst = e
		}
	}
	return worst
}

// lobePadding is how many points a bin is divided into to see the side lobes.
const lobePadding = 16

// responseOf is a window of a length.
type responseOf struct {
	d *windowDesign
	n int
}

// responses remembers padded responses, which are always the same.
var responses sync.Map // of responseOf to []float64

// paddedResponse returns |W| / |W(0)| at offsets 0, 1/16, 2/16 … n/2 bins. The
// slice is shared and must not be changed.
func (w Window) paddedResponse(n int) []float64 {
	key := responseOf{w.design(), n}
	if known, ok := responses.Load(key); ok {
		return known.([]float64)
	}
	r := w.newPaddedResponse(n)
	responses.Store(key, r)
	return r
}

func (w Window) newPaddedResponse(n int) []float64 {
	x := make([]float64, lobePadding*n)
	copy(x, w.Weights(n))
	power := transform.NewReal(len(x)).Power(nil, x)
	top := power[0]
	for k := range power {
		power[k] = math.Sqrt(power[k] / top)
	}
	return power
}

// SideLobe returns the height of the highest side lobe in decibels relative to
// the main lobe, a negative number. Where it is below about -200 dB, what the
// window really gives is limited by rounding, there and in the samples.
func (w Window) SideLobe(n int) float64 {
	r := w.newPaddedResponse(n)
	k := firstNull(r)
	top := k
	for i := k; i < len(r); i++ {
		if r[i] > r[top] {
			top = i
		}
	}
	l := newLobe(w, n)
	// The top of the lobe lies within one point of the highest point seen.
	lo, hi := float64(top-1)/lobePadding, float64(top+1)/lobePadding
	for range 40 { // ternary search down to 1e-8 bins
		a, b := lo+(hi-lo)/3, hi-(hi-lo)/3
		if l.at(a) < l.at(b) {
			lo = a
		} else {
			hi = b
		}
	}
	return decibels(l.at((lo + hi) / 2))
}

// firstNull returns the first minimum of a padded response beyond the half-
// power point, inside of which flat-tops ripple.
func firstNull(r []float64) int {
	k := 1
	for k+1 < len(r) && r[k] > math.Sqrt(0.5) {
		k++
	}
	for k+1 < len(r) && r[k+1] < r[k] {
		k++
	}
	return k
}

// Overlap returns the recommended overlap of neighbouring blocks as a share of
// their length: where the amplitude flatness of the overlapped windows exceeds
// the correlation of neighbouring blocks by most (Heinzel 2002, section 10).
func (w Window) Overlap() float64 { return w.design().overlap }

// OverlapFlatness returns the smallest sum of overlapping windows of n samples,
// relative to the largest: 1 where every sample weighs the same in the end, 0
// where some are not used. The blocks begin hop samples apart.
func (w Window) OverlapFlatness(n, hop int) float64 {
	if hop < 1 || hop > n {
		panic("tacho: hop must be 1 to the length of the window")
	}
	sums := make([]float64, hop)
	for j, x := range w.Weights(n) {
		sums[j%hop] += x
	}
	lo, hi := sums[0], sums[0]
	for _, s := range sums {
		lo, hi = min(lo, s), max(hi, s)
	}
	return lo / hi
}

// OverlapCorrelation returns the correlation between white noise in two
// blocks that begin hop samples apart, Σ w(j)w(j+hop) / Σ w(j)²: 0 for
// independent blocks (Harris 1978, equation 29).
func (w Window) OverlapCorrelation(n, hop int) float64 {
	if hop < 0 {
		panic("tacho: hop cannot be negative")
	}
	x := w.Weights(n)
	var shared, all float64
	for j := range x {
		all += x[j] * x[j]
		if j+hop < n {
			shared += x[j] * x[j+hop]
		}
	}
	return shared / all
}
