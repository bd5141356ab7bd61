package comb

import (
	"math"

	"rotorhum/tacho/internal/evidence"
)

// Second looks for another stack between rates lo and hi (in orders) among the
// lines that do not belong to the stack of first. It returns the best one's rate
// and the evidence of its own lines, zero if there are fewer than two.
func (o *Orders) Second(first, lo, hi float64, line *evidence.Line) (rate, nats float64) {
	top := math.Min(o.Top, float64(len(o.Z)-2)/float64(o.Per))
	per := float64(o.Per)
	const most = 12 // harmonics
	lo = math.Max(lo, lobe/per)
	for b := lo; b <= math.Min(hi, top); b += math.Max(0.5, b/8) / (per * most) {
		run, best, clear := 0.0, 0.0, 0
		for m := 1; m <= most; m++ {
			x := b * float64(m)
			if x > top {
				break
			}
			if near(x, first, per) {
				continue
			}
			s := o.score(x)
			if s > 8 {
				clear++
			}
			run += line.At(s)
			if v := run - math.Log(float64(m)+1); v > best && clear >= 2 {
				best = v
			}
		}
		// a multiple with nearly the same evidence has fewer gaps
		if best > nats || best > nats-2.5 && math.Abs(b/rate-math.Round(b/rate)) < 0.01 && b > 1.5*rate {
			rate, nats = b, best
		}
	}
	return rate, nats
}

// near reports whether order x lies on a multiple of base.
func near(x, base, per float64) bool {
	k := math.Round(x / base)
	return k >= 1 && math.Abs(x-k*base)*per <= 2
}

// Power returns the power of the lines at multiples of base, without those that
// are multiples of but as well.
func (o *Orders) Power(base, but float64) float64 {
	sum, per := 0.0, float64(o.Per)
	for m := 1.0; m*base <= o.Top && m*base*per < float64(len(o.Z)-2); m++ {
		if k := int(m*base*per + 0.5); !near(m*base, but, per) && o.score(m*base) > 8 {
			sum += o.Raw[k]
		}
	}
	return sum
}
