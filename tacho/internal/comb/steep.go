package comb

import "math"

// Low noise is steep: wind and traffic fall with the frequency, and below the edge
// of a recorder's high-pass nothing is left. A neighbourhood of contrastHalf bins
// then holds far less than the noise at the bin itself, which looks like a line for
// as many bins above the edge. A line stands out of what is directly beside it on
// either side.

// beside is the number of bins next to the main lobe, on either side, that tell how
// loud the noise beside a line is.
const beside = 6

// addLow adds the power of the bins of one segment below the rate that was followed
// to their sum, over its geometric mean: a knock counts no more than any other
// moment.
func (o *Orders) addLow(z []float64, hidden []bool) {
	n := min(len(z), o.Per+beside)
	if o.low == nil {
		o.low = make([]float64, n)
	}
	n = min(n, len(o.low))
	level := 0.0
	for _, v := range z[:n] {
		level += fastLog2(v * 1e12)
	}
	scale := 1e12 * fastExp2(-level/float64(n))
	for k, v := range z[:n] {
		if hidden == nil || !hidden[k] {
			o.low[k] += v * scale
		}
	}
}

// steepest returns the ratio of the power of a bin below the rate that was followed to
// that of the noise directly beside it, on the louder side; +Inf for bins of which this
// is not asked.
func (o *Orders) steepest(k int) float64 {
	if k >= o.Per-lobe || k+lobe+beside >= len(o.low) {
		return math.Inf(1)
	}
	side := func(from int) float64 {
		least := math.Inf(1)
		for j := from; j < from+beside; j++ {
			if j < 1 || o.hides(j) {
				return 0
			}
			// the next lines of a stack may lie there as well, their main lobes side by side
			least = math.Min(least, o.low[j]/o.heardOf(j))
		}
		return least
	}
	floor := math.Max(side(k-lobe-beside), side(k+lobe+1))
	if floor == 0 {
		return math.Inf(1)
	}
	return o.low[k] / o.heardOf(k) / floor
}

// heardOf returns the share of the segments that tell of bin k.
func (o *Orders) heardOf(k int) float64 {
	if o.heard == nil {
		return 1
	}
	return math.Max(leastHeard, o.heard[k])
}
