package comb

import (
	"math"

	"rotorhum/tacho/internal/evidence"
)

// A frame's spectrum is looked at as the binary logarithm of its normalised
// power, in single precision, half as many bytes as double: the kernels below
// have two passes over the bins, for AVX2 in lines_amd64.s.

const (
	// contrastHalf is half the number of bins that a line is compared with.
	contrastHalf = 16
	// faintest is the least logarithm that counts: no power at all.
	faintest = -30
	// nothing as the logarithm of a floor leaves no power above it.
	nothing = 1000
	// meanLog is how far the mean binary logarithm of exponentially distributed
	// power lies below that of its mean: Euler's constant over ln 2.
	meanLog = 0.5772156649 / math.Ln2
)

// lines is the scratch memory for spectra of a number of bins.
type lines struct {
	// u holds the logarithms of one spectrum's bins.
	u []float32
	// sum holds the sums of the bins before, with contrastHalf more at either
	// end, and share one over the number of bins within reach.
	sum, share []float32
}

func newLines(bins int) *lines {
	l := &lines{u: make([]float32, bins), sum: make([]float32, bins+1+2*contrastHalf), share: make([]float32, bins)}
	for i := range l.share {
		l.share[i] = 1 / float32(min(bins, i+contrastHalf+1)-max(0, i-contrastHalf))
	}
	return l
}

// weigh leaves in l.u the logarithm of power over the floor, of which the
// logarithm is given, with contrast, and adds the evidence of every bin to ev.
//
// With contrast means: over the geometric mean of the neighbourhood, where that
// is above the noise. A warp that does not fit smears strong lines into a
// plateau, in which every bin would pass for a line; after contrast a plateau is
// as flat as noise, while separate lines stay.
func (l *lines) weigh(ev []float32, power []float64, floor []float32, c *evidence.Curve) {
	n := len(l.u)
	sum := l.sum[contrastHalf:]
	logarithms(l.u, sum[1:n+1], power[:n], floor[:n])
	last := sum[n]
	tail := sum[n+1:]
	for i := range tail {
		tail[i] = last
	}
	contrast(ev[:n], l.u, l.sum, l.share, c)
}

// logarithmsGo sets u[i] to log2(power[i]) - floor[i], not less than faintest,
// and sum[i] to the sum of u up to and with u[i].
func logarithmsGo(u, sum []float32, power []float64, floor []float32, before float32) {
	u, sum, floor = u[:len(power)], sum[:len(power)], floor[:len(power)]
	for i, p := range power {
		v := max(log2(float32(p))-floor[i], faintest)
		before += v
		u[i], sum[i] = v, before
	}
}

// log2 is the binary logarithm of x >= 0 within 0.0005; of 0 it is -127.
func log2(x float32) float32 {
	b := math.Float32bits(x)
	e := float32(int32(b>>23) - 127)
	d := math.Float32frombits(b&(1<<23-1)|127<<23) - 1
	return e + d*(log2c0+d*(log2c1+d*(log2c2+d*log2c3)))
}

// log2(1+d) for d from 0 to 1, exact at both ends.
const (
	log2c0 = 1.438726
	log2c1 = -0.677784
	log2c2 = 0.321189
	log2c3 = 1 - log2c0 - log2c1 - log2c2
)

// contrastGo takes the mean of the neighbourhood from u where it is above that
// of noise, and adds the evidence of what is left to ev.
func contrastGo(ev, u, sum, share []float32, c *evidence.Curve) {
	n := len(u)
	before, after := sum[:n], sum[2*contrastHalf+1:]
	ev, share, after = ev[:n], share[:n], after[:n]
	for i, v := range u {
		v -= max(0, (after[i]-before[i])*share[i]+meanLog)
		u[i] = v
		ev[i] += c.At(v)
	}
}

// clearest is the least evidence, in nats, of a bin that counts as a line.
const clearest = 0.3

// peaksGo appends to dst the bins from lo to hi-1 that are lines: those with clear
// evidence and more power than their neighbours.
func peaksGo(dst []int32, ev, u []float32, lo, hi int) []int32 {
	for k := lo; k < hi; k++ {
		if ev[k] > clearest && u[k] > u[k-1] && u[k] >= u[k+1] {
			dst = append(dst, int32(k))
		}
	}
	return dst
}
