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
	if n == 0 {
		return dst
	}
	width = max(8, min(width, n))
	correction := -1 / math.Log(1-Quantile)
	var at, value []float64
	buf := make([]float64, 0, width)
	for lo := 1; lo < n; {
		w := max(width, int(relative*float64(lo)))
		hi := min(lo+w, n)
		if hi-lo < w/2 && lo > 1 {
			break
		}
		buf = buf[:0]
		// long blocks are thinned: the quantile of 512 values is known to 5 %
		step := max(1, (hi-lo)/512)
		for k := lo; k < hi; k += step {
			if power[k] > 0 {
				buf = append(buf, power[k])
			}
		}
		if len(buf) >= 4 {
			at = append(at, float64(lo+hi-1)/2)
			value = append(value, math.Log(rank.Select(buf, int(Quantile*float64(len(buf))))*correction))
		}
		lo += max(1, w/2)
	}
	if len(at) == 0 {
		clear(dst)
		return dst
	}
	i := 0
	for k := range dst {
		x := float64(k)
		for i+1 < len(at) && at[i+1] < x {
			i++
		}
		switch {
		case x <= at[0]:
			dst[k] = value[0]
		case i+1 >= len(at):
			dst[k] = value[len(at)-1]
		default:
			f := (x - at[i]) / (at[i+1] - at[i])
			dst[k] = value[i] + f*(value[i+1]-value[i])
		}
	}
	for k := range dst {
		dst[k] = math.Exp(dst[k])
	}
	return dst
}
