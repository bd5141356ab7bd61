package comb

import "math"

// recurrence weighs whether the lines between those of the pulses, every z-th of v,
// come again in the same proportions from one gap to the next, in nats: the blades
// of one rotor make much alike pulses, and which lines of the shaft their being unlike
// makes strong is nearly the same around every harmonic of the pulses. Lines of one
// stack owe each other nothing at that distance. NaN stands for a line that is not
// known; the first line is left out, as unbalance may make it of any strength.
//
// What is left of the logarithms of their power without the mean of each gap and the
// slope of the means is compared with the same of the next gap. The odds are those of
// a correlation anywhere from none to full against none (from memory: Jeffreys, Theory of
// Probability, 1961, 5.7: an unknown scatter taken out); a scatter below curved tells
// nothing, as a smooth spectrum is bent in every gap alike.
func recurrence(v []float64, z int) float64 {
	const curved, most = 0.5, 3.0
	if z < 3 {
		return 0 // one line in a gap
	}
	gaps := (len(v) + z - 1) / z
	level := make([]float64, gaps)
	for m := range level {
		sum, n := 0.0, 0.0
		for k := max(2, m*z+1); k < min((m+1)*z, len(v)+1); k++ {
			if x := v[k-1]; !math.IsNaN(x) {
				sum += x
				n++
			}
		}
		level[m] = sum / n // NaN if there is none
	}
	slope := func(m int) float64 {
		lo, hi := max(0, m-1), min(gaps-1, m+1)
		for ; lo < m && math.IsNaN(level[lo]); lo++ {
		}
		for ; hi > m && math.IsNaN(level[hi]); hi-- {
		}
		if lo == hi {
			return 0
		}
		return (level[hi] - level[lo]) / float64((hi-lo)*z)
	}
	var xx, yy, xy, free float64
	var x, y []float64
	for m := 0; m+1 < gaps; m++ {
		x, y = x[:0], y[:0]
		a, b := slope(m), slope(m+1)
		for j := 1; j < z && (m+1)*z+j <= len(v); j++ {
			p, q := v[m*z+j-1], v[(m+1)*z+j-1]
			if m*z+j == 1 || math.IsNaN(p) || math.IsNaN(q) {
				continue
			}
			x, y = append(x, p-a*float64(j)), append(y, q-b*float64(j))
		}
		if len(x) < 2 {
			continue
		}
		center(x, most)
		center(y, most)
		for i := range x {
			xx += x[i] * x[i]
			yy += y[i] * y[i]
			xy += x[i] * y[i]
		}
		free += float64(len(x) - 1)
	}
	if free == 0 {
		return 0
	}
	const steps = 40
	r := xy / math.Sqrt((xx+free*curved*curved)*(yy+free*curved*curved))
	sum := 0.0
	for i := range steps {
		rho := (float64(i) + 0.5) / steps
		sum += math.Exp(free/2*math.Log(1-rho*rho) - (free-0.5)*math.Log(1-rho*r))
	}
	return math.Log(sum / steps)
}

// center takes the mean out of v and bounds what is left.
func center(v []float64, most float64) {
	mean := 0.0
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for i := range v {
		v[i] = math.Max(-most, math.Min(most, v[i]-mean))
	}
}
