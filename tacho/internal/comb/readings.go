package comb

import (
	"math"

	"rotorhum/tacho/internal/evidence"
)

// Evidence returns the evidence of lines at all multiples of base (in orders),
// where those that are multiples of every (a whole number of bases) are taken
// to be there and the others may be. With the same table for both, the blades
// are as unequal as can be.
func (o *Orders) Evidence(base float64, every int, sure, maybe *evidence.Line) float64 {
	return o.EvidenceBeside(0, base, every, sure, maybe)
}

// EvidenceBeside is Evidence beside another stack, of rate other, or 0 for none:
// lines that may be there count only where none of its lines is.
func (o *Orders) EvidenceBeside(other, base float64, every int, sure, maybe *evidence.Line) float64 {
	run, best := 0.0, math.Inf(-1)
	there, perhaps := o.told(sure), o.told(maybe)
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
		case o.hides(o.bin(x)):
		case m%every == 0:
			run += there[o.bin(x)]
		case other > 0 && x < (secondHarmonics+0.5)*other && near(x, other, float64(o.Per)):
		case m == 1 || maybe == sure || !o.alien(x, float64(every)*base, maybe):
			run += perhaps[o.bin(x)]
		}
		switch {
		case m%every == 0 && maybe != sure:
			best = math.Max(best, run-long(m/every))
		case m >= every && maybe == sure: // it may end anywhere
			best = math.Max(best, run-long(m/every)-math.Log(float64(every)))
		}
	}
	return best
}

// long is what it costs that pulses have so many harmonics, in nats: few are as
// likely as many, but for more than a dozen.
func long(harmonics int) float64 {
	const usual = 12
	n := float64(harmonics)
	return math.Log(n+1) + math.Log(math.Max(1, n/usual))
}

// alien reports whether the line at order x, between multiples of pulse, is too
// strong beside those on either side for blades as unequal as maybe says: as strong
// where every other line is there, half as strong where few are.
func (o *Orders) alien(x, pulse float64, maybe *evidence.Line) bool {
	v, below := o.Line(x), math.Floor(x/pulse)*pulse
	if v < 30 {
		return false
	}
	on := o.Line(below + pulse)
	if below > 0 {
		on = math.Max(on, o.Line(below))
	}
	if maybe.Present() < few {
		return v > on/4
	}
	return v > on
}

// few is the share of lines between the pulses below which blades are only a little
// unequal.
const few = 0.3

// score turns the excess at an order into a normalised power that carries the
// same evidence in a single look. The mean of n looks at noise is gamma
// distributed; that it is u times as large as expected has odds of e to the power
// of n (u - 1 - ln u) against it.
func (o *Orders) score(x float64) float64 {
	o.weigh()
	return o.scores[o.bin(x)]
}

// bin returns the bin of order x.
func (o *Orders) bin(x float64) int { return int(x*float64(o.Per) + 0.5) }

// weigh finds the scores of all bins, once: readings share them.
func (o *Orders) weigh() {
	if o.scores != nil {
		return
	}
	const nothing = 0.3
	o.scores = make([]float64, len(o.Z))
	for k, s := range o.Z {
		o.scores[k] = nothing
		if s <= 0 {
			continue
		}
		if o.looks == nil { // as many as make the excess a normal one
			o.scores[k] = nothing + s*s/2
			continue
		}
		n := math.Max(1, o.looks[k])
		// the excess is over the median, which lies below the mean
		if u := (1 + s/math.Sqrt(n)) * (1 - 1/(3*n)); u > 1 {
			o.scores[k] = nothing + n*(u-1-math.Log(u))
		}
	}
}

// told returns the evidence of a line in every bin.
func (o *Orders) told(line *evidence.Line) []float64 {
	if v, ok := o.lines[line]; ok {
		return v
	}
	o.weigh()
	v := make([]float64, len(o.scores))
	for k, s := range o.scores {
		v[k] = line.At(s)
	}
	if o.lines == nil {
		o.lines = map[*evidence.Line][]float64{}
	}
	o.lines[line] = v
	return v
}

// Line returns the excess of the power at order x in units of its scatter.
func (o *Orders) Line(x float64) float64 {
	k := o.bin(x)
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
