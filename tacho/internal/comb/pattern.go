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
	var v []float64 // logarithms of the lines' excess
	for m := 1; m <= 12*z; m++ {
		x := base * float64(m)
		if x > o.Top || x*float64(o.Per) > float64(len(o.Z)-2) {
			break
		}
		v = append(v, math.Log(math.Max(4, o.Line(x))))
	}
	return PatternIn(v, z)
}

// PatternIn is Pattern for the logarithms v of the lines' power over the noise,
// the first line first.
func PatternIn(v []float64, z int) (d int, nats float64) {
	// beyond the last line that stands out there is nothing to compare
	for len(v) > 0 && v[len(v)-1] < 2 {
		v = v[:len(v)-1]
	}
	d, nats = 1, 0
	for k := 2; k <= z; k++ {
		if z%k != 0 {
			continue
		}
		if e := patternOdds(rises(v, k), k); d == 1 && e != 0 || e > nats {
			d, nats = k, e
		}
	}
	return d, nats
}

// rises returns by how much each d-th of the values stands above the mean of
// those between it and its neighbours of the same kind, six of them at most. It
// returns none if all could be compared with later values only: a line that
// stands above the next ones may be part of a stack that falls.
func rises(v []float64, d int) []float64 {
	var out []float64
	paired := false
	for m := d; m <= len(v) && len(out) < 6; m += d {
		var sum, n float64
		for j := 1; j < d; j++ {
			left, l := v[m-j-1], m-j > 1
			right, r := left, l
			if m+j <= len(v) {
				right, r = v[m+j-1], true
			}
			switch { // in pairs, which a sloping envelope leaves level
			case l && r:
				sum += left + right
				n += 2
				paired = true
			case r:
				sum += right
				n++
			}
		}
		if n > 0 {
			out = append(out, v[m-1]-sum/n)
		}
	}
	if !paired {
		return nil
	}
	return out
}

// patternOdds returns the logarithm of the odds of the pattern with period d,
// given how far the lines of the pulses rise above those between.
func patternOdds(rise []float64, d int) float64 {
	if len(rise) == 0 {
		return 0
	}
	const scatter = 0.9 // of the logarithm of a line's power
	between := float64(2 * (d - 1))
	plain := scatter * math.Sqrt(1+1/between)
	// the sum of many blades is as likely weak as a random walk may end near home
	unequal := math.Hypot(scatter, 1.28/math.Sqrt(between))
	student := func(x, scale float64) float64 {
		x /= scale
		return -2.5*math.Log1p(x*x/4) - math.Log(scale)
	}
	none := 0.0
	for _, c := range rise {
		none += student(c, plain)
	}
	const first, last, step = 1.0, 7.0, 0.25
	sum, n := 0.0, 0.0
	for h := first; h <= last; h += step {
		like := 0.0
		for j, c := range rise {
			like += student(c-h/(1+0.2*float64(j)), unequal)
		}
		sum += math.Exp(like - none)
		n++
	}
	return math.Log(sum / n)
}
