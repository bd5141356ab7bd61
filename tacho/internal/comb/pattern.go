package comb

import (
	"math"
	"slices"
)

// Pattern weighs whether the lines at multiples of base are those of unequal
// blades: lines of a shaft, of which every d-th, d a divisor of z, belongs to
// the pulses and stands above those between. It returns the divisor for which
// that is most credible and the logarithm of its odds against one stack with
// strengths that follow no such rule; d is 1 where the lines say nothing.
//
// The first line is left out, as unbalance may make it of any strength.
func (o *Orders) Pattern(base float64, z int) (d int, nats float64) {
	return PatternIn(o.strengths(base, z), z)
}

// Unequal is Pattern for one period: the logarithm of the odds that of the lines at
// multiples of base every z-th belongs to the pulses, and how many lines of the
// pulses it rests on, up to six, by how far these rise above those between. Lines
// that do not stand out are taken to be as weak as can be, or, with there set, are
// left out.
func (o *Orders) Unequal(base float64, z int, there bool) (nats float64, pulses int) {
	v := upToLast(o.strengths(base, z))
	if there {
		v = standingOnly(v)
	}
	r := rises(v, z)
	return patternOdds(r, z), len(r)
}

// Recurs is the logarithm of the odds that the lines at multiples of base come again
// in the same proportions with every z-th, as those of a shaft with z unlike blades
// do, against lines that owe each other nothing.
func (o *Orders) Recurs(base float64, z int) float64 {
	return recurrence(standingOnly(upToLast(o.strengths(base, z))), z)
}

// leastExcess is the least excess that a line is said to have, as noise has as much here
// and there, and standing its logarithm: what lies above stands out.
const leastExcess = 4.0

var standing = math.Log(leastExcess)

// strengths returns the logarithms of the excess of the lines at multiples of base,
// as many as twelve times z; NaN for places of which nothing is known.
func (o *Orders) strengths(base float64, z int) []float64 {
	var v []float64
	for m := 1; m <= 12*z; m++ {
		x := base * float64(m)
		if x > o.Top || x*float64(o.Per) > float64(len(o.Z)-2) {
			break
		}
		if o.hides(o.bin(x)) {
			v = append(v, math.NaN())
			continue
		}
		v = append(v, math.Log(math.Max(leastExcess, o.Line(x))))
	}
	return v
}

// PatternIn is Pattern for the logarithms v of the lines' power over the noise,
// the first line first.
func PatternIn(v []float64, z int) (d int, nats float64) {
	v = upToLast(v)
	d, nats = 1, 0
	for k := 2; k <= z; k++ {
		if z%k != 0 {
			continue
		}
		if e := PatternOf(v, k); d == 1 && e != 0 || e > nats {
			d, nats = k, e
		}
	}
	return d, nats
}

// PatternOf is PatternIn for one divisor d.
func PatternOf(v []float64, d int) (nats float64) {
	v = upToLast(v)
	if nats = patternOdds(rises(v, d), d); nats != 0 {
		nats += recurrence(standingOnly(v), d)
	}
	return nats
}

// standingOnly leaves out what does not stand out.
func standingOnly(v []float64) []float64 {
	out := slices.Clone(v)
	for i, x := range v {
		if x <= standing {
			out[i] = math.NaN()
		}
	}
	return out
}

// upToLast leaves out what lies beyond the last line that stands out: there is
// nothing to compare.
func upToLast(v []float64) []float64 {
	for len(v) > 0 && !(v[len(v)-1] > standing) {
		v = v[:len(v)-1]
	}
	return v
}

// rise is by how much a line stands above the mean of so many others.
type rise struct{ by, others float64 }

// rises returns by how much each d-th of the values stands above the mean of
// those between it and its neighbours of the same kind, six of them at most; NaN
// stands for none. It returns none if all could be compared with later values
// only: a line that stands above the next ones may be part of a stack that falls.
func rises(v []float64, d int) []rise {
	var out []rise
	paired := false
	for m := d; m <= len(v) && len(out) < 6; m += d {
		var sum, n float64
		for j := 1; j < d; j++ {
			left, l := v[m-j-1], m-j > 1 && !math.IsNaN(v[m-j-1])
			right, r := left, m+j > len(v) && l
			if m+j <= len(v) {
				right, r = v[m+j-1], !math.IsNaN(v[m+j-1])
			}
			switch { // in pairs, which a sloping envelope leaves level
			case l && r:
				sum += left + right
				n += 2
				paired = true
			case r && m-j <= 1:
				sum += right
				n++
			}
		}
		if n > 0 && !math.IsNaN(v[m-1]) {
			out = append(out, rise{v[m-1] - sum/n, n})
		}
	}
	if !paired {
		return nil
	}
	return out
}
