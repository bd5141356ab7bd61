package comb

import "math"

// Pattern weighs whether the lines at multiples of base are those of unequal
// blades: lines of a shaft, of which every d-th, d a divisor of z, belongs to
// the pulses and stands above those between. It returns the divisor for which
// that is most credible and the logarithm of its odds against one stack with
// strengths that follow no such rule; d is 1 where the lines say nothing.
//
// The strengths of one stack scatter by some 4 dB from line to line, now and
// then by much more (Student's distribution with four degrees of freedom). With
// unequal blades the pulses' lines stand 4 to 30 dB above the mean of those
// between, less and less for higher ones, since unequal angles blur the pattern;
// the first line is left out, as unbalance may make it of any strength.
func (o *Orders) Pattern(base float64, z int) (d int, nats float64) {
	return PatternIn(o.strengths(base, z), z)
}

// Unequal is Pattern for one period: the logarithm of the odds that of the lines at
// multiples of base every z-th belongs to the pulses, and how many lines of the
// pulses it rests on, up to six. Lines that do not stand out are taken to be as
// weak as can be, or, with there set, are left out.
// The pulses stand at least least above the lines between, as a logarithm of power.
func (o *Orders) Unequal(base float64, z int, least float64, there bool) (nats float64, pulses int) {
	v := upToLast(o.strengths(base, z))
	for i, x := range v {
		if there && x < standing {
			v[i] = math.NaN()
		}
	}
	r := rises(v, z)
	return patternOdds(r, least), len(r)
}

// standing is the logarithm of the excess from which on a line stands out.
const standing = 2.0

// strengths returns the logarithms of the excess of the lines at multiples of base,
// as many as twelve times z; NaN for places of which nothing is known.
func (o *Orders) strengths(base float64, z int) []float64 {
	var v []float64
	for m := 1; m <= 12*z; m++ {
		x := base * float64(m)
		if x > o.Top || x*float64(o.Per) > float64(len(o.Z)-2) {
			break
		}
		if o.hides(x) {
			v = append(v, math.NaN())
			continue
		}
		v = append(v, math.Log(math.Max(4, o.Line(x))))
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
		if e := patternOdds(rises(v, k), leastRise); d == 1 && e != 0 || e > nats {
			d, nats = k, e
		}
	}
	return d, nats
}

// PatternOf is PatternIn for one divisor d.
func PatternOf(v []float64, d int) (nats float64) {
	return patternOdds(rises(upToLast(v), d), leastRise)
}

// upToLast leaves out what lies beyond the last line that stands out: there is
// nothing to compare.
func upToLast(v []float64) []float64 {
	for len(v) > 0 && !(v[len(v)-1] >= standing) {
		v = v[:len(v)-1]
	}
	return v
}

// leastRise is the least by which the lines of the pulses stand above those
// between: 4 dB.
const leastRise = 1.0

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

// patternOdds returns the logarithm of the odds of the pattern, given how far the
// lines of the pulses rise above those between and that it is least at least.
func patternOdds(rises []rise, least float64) float64 {
	if len(rises) == 0 {
		return 0
	}
	const scatter = 0.9 // of the logarithm of a line's power
	student := func(x, scale float64) float64 {
		x /= scale
		return -2.5*math.Log1p(x*x/4) - math.Log(scale)
	}
	none := 0.0
	for _, c := range rises {
		none += student(c.by, scatter*math.Sqrt(1+1/c.others))
	}
	const most, step = 7.0, 0.25
	sum, n := 0.0, 0.0
	for h := least; h <= most; h += step {
		like := 0.0
		for j, c := range rises {
			// the sum of many blades is as likely weak as a random walk may end near home
			like += student(c.by-h/(1+0.2*float64(j)), math.Hypot(scatter, 1.28/math.Sqrt(c.others)))
		}
		sum += math.Exp(like - none)
		n++
	}
	return math.Log(sum / n)
}
