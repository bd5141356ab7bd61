// Package floor estimates the noise floor of a power spectrum that also holds
// lines: a low quantile over blocks of bins, which a few strong bins cannot
// lift, corrected to the mean of exponentially distributed noise power.
package floor

import (
	"math"

	"rotorhum/tacho/internal/rank"
)

// Quantile is the quantile of each block that is read. Below one half it bears
// blocks in which up to about half the bins belong to lines.
const Quantile = 0.4

// Blocks are the blocks of bins whose quantiles are the floor. They overlap by
// half and widen towards high bins.
type Blocks struct {
	bins   int
	blocks []block
	buf    []float32
}

// block takes in every step-th bin from lo to hi-1; at is its centre.
type block struct {
	lo, hi, step int
	at           float64
}

// NewBlocks lays out blocks for spectra of the given number of bins: width bins
// each, or the fraction relative of its own first bin where that is more. Of a
// long block about most bins are looked at.
func NewBlocks(bins, width int, relative float64, most int) *Blocks {
	b := &Blocks{bins: bins}
	width = max(8, min(width, bins))
	for lo := 1; lo < bins; {
		w := max(width, int(relative*float64(lo)))
		hi := min(lo+w, bins)
		if hi-lo < w/2 && lo > 1 {
			break
		}
		b.blocks = append(b.blocks, block{lo, hi, max(1, (hi-lo)/most), float64(lo+hi-1) / 2})
		lo += max(1, w/2)
	}
	return b
}

// Len returns the number of blocks.
func (b *Blocks) Len() int { return len(b.blocks) }

// Levels writes the expected noise power in every block to dst, which must have
// their number, to within a share of 2^-bits, bits at most 23. Exact zeros (digital
// silence) are ignored; a block with hardly anything else has the level NaN.
func (b *Blocks) Levels(dst, power []float64, bits int) {
	correction := -1 / math.Log(1-Quantile)
	var last float32
	for i, k := range b.blocks {
		if n := (k.hi - k.lo + k.step - 1) / k.step; cap(b.buf) < n {
			b.buf = make([]float32, n)
		} else {
			b.buf = b.buf[:n]
		}
		zeros := 0
		j := k.lo
		for l := range b.buf {
			v := float32(power[j])
			if !(v > 0) {
				zeros++
			}
			b.buf[l] = v
			j += k.step
		}
		dst[i] = math.NaN()
		if n := len(b.buf) - zeros; n >= 4 {
			last = rank.Near(b.buf, zeros+int(Quantile*float64(n)), last, bits)
			dst[i] = float64(last) * correction
		}
	}
}

// Join calls set for every bin with what lies on straight lines between the
// values of the blocks, values that are not NaN, and reports whether there are
// any.
func (b *Blocks) Join(values []float64, set func(bin int, v float64)) bool {
	next := func(i int) int {
		for i < len(values) && math.IsNaN(values[i]) {
			i++
		}
		return i
	}
	i := next(0)
	if i == len(values) {
		return false
	}
	k := 0
	for ; k < b.bins && float64(k) <= b.blocks[i].at; k++ {
		set(k, values[i])
	}
	for j := next(i + 1); j < len(values); i, j = j, next(j+1) {
		x := b.blocks[i].at
		slope := (values[j] - values[i]) / (b.blocks[j].at - x)
		for ; k < b.bins && float64(k) <= b.blocks[j].at; k++ {
			set(k, values[i]+slope*(float64(k)-x))
		}
	}
	for ; k < b.bins; k++ {
		set(k, values[i])
	}
	return true
}

// Estimate returns the expected noise power of every bin of power (one-sided,
// bin 0 first), from blocks of width bins that overlap by half and are joined
// by straight lines in the logarithm. Blocks widen towards high bins so that
// each spans at least the fraction relative of its own centre. Exact zeros
// (digital silence) are ignored; a spectrum of nothing but zeros gives a floor
// of zeros. The result reuses dst if it is large enough.
func Estimate(dst, power []float64, width int, relative float64) []float64 {
	n := len(power)
	if cap(dst) < n {
		dst = make([]float64, n)
	}
	dst = dst[:n]
	// the quantile of 512 values is known to 5 %
	b := NewBlocks(n, width, relative, 512)
	levels := make([]float64, b.Len())
	b.Levels(levels, power, 23)
	for i, v := range levels {
		levels[i] = math.Log(v)
	}
	if !b.Join(levels, func(k int, v float64) { dst[k] = math.Exp(v) }) {
		clear(dst)
	}
	return dst
}
