package comb

import (
	"math"

	"rotorhum/tacho/internal/evidence"
)

// Evidence returns the evidence of lines at all multiples of base (in orders),
// where those that are multiples of every (a whole number of bases) are taken
// to be there and the others may be.
func (o *Orders) Evidence(base float64, every int, sure, maybe *evidence.Line) float64 {
	run, best := 0.0, math.Inf(-1)
	var list []float64
	step := 1
	if base*float64(o.Per) < lobe {
		step = every // lines this close cannot be told apart
		if base*float64(every*o.Per) < lobe {
			return best
		}
	}
	for m := step; ; m += step {
		x := base * float64(m)
		if x > o.Top || x*float64(o.Per) > float64(len(o.Z)-2) {
			break
		}
		switch {
		case m%every == 0:
			run += sure.At(o.score(x))
		case m == 1 || !o.alien(x, float64(every)*base):
			run += maybe.At(o.score(x))
		}
		if m%every == 0 {
			list = append(list, run)
		}
	}
	for i, v := range list {
		best = math.Max(best, v-math.Log(float64(i)+2))
	}
	return best
}

// alien reports whether the line at order x, between multiples of pulse, is much
// stronger than those on either side: unequal blades do not make such a line.
func (o *Orders) alien(x, pulse float64) bool {
	v, below := o.Line(x), math.Floor(x/pulse)*pulse
	if v < 30 {
		return false
	}
	on := o.Line(below + pulse)
	if below > 0 {
		on = math.Max(on, o.Line(below))
	}
	return v > 4*on
}

// score turns the excess at an order into a normalised power that carries the
// same evidence in a single look: a Gaussian excess of s scatters has a log
// likelihood ratio of s^2/2.
func (o *Orders) score(x float64) float64 {
	s := o.Z[int(x*float64(o.Per)+0.5)]
	if s <= 0 {
		return 0.3
	}
	return 0.3 + s*s/2
}

// Line returns the excess of the power at order x in units of its scatter.
func (o *Orders) Line(x float64) float64 {
	k := int(x*float64(o.Per) + 0.5)
	if k >= len(o.Z) {
		return 0
	}
	return o.Z[k]
}

// Between returns the power of the strongest line at a multiple of base that is
// no multiple of z*base, over that of the strongest that is, up to three times
// z*base: how unequal the pulses of one turn are.
func (o *Orders) Between(base float64, z int) float64 {
	if base*float64(o.Per) < lobe {
		return 0
	}
	var on, off float64
	for m := 1; m <= 3*z; m++ {
		x := base * float64(m)
		if x > o.Top || x*float64(o.Per) > float64(len(o.Z)-2) {
			break
		}
		if v := o.Line(x); m%z == 0 {
			on = math.Max(on, v)
		} else if v > 4 {
			off = math.Max(off, v)
		}
	}
	if on == 0 {
		return 1
	}
	return off / on
}

// Filled returns the share of the places of a stack, up to the last line that
// stands out, that hold lines which stand out.
func (o *Orders) Filled(base float64) float64 {
	lines, last := 0.0, 1.0
	for m := 1.0; m*base <= o.Top && m*base*float64(o.Per) < float64(len(o.Z)-2); m++ {
		if o.score(m*base) > 8 {
			lines++
			last = m
		}
	}
	return lines / last
}
