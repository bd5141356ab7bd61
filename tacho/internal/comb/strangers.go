package comb

import "math"

// Strangers calls hide with every range of orders in which lines of something else lie
// between two times.
type Strangers func(from, to float64, hide func(lo, hi float64))

// mark marks the bins, so many an order, in which others have lines between two times.
func (others Strangers) mark(hidden []bool, from, to, per float64) {
	if others == nil {
		return
	}
	clear(hidden)
	others(from, to, func(lo, hi float64) {
		for k := max(0, int(math.Ceil(lo*per))); k < len(hidden) && float64(k) <= hi*per; k++ {
			hidden[k] = true
		}
	})
}

// leaveOut turns what was summed, of each bin where it was heard, into as much as if it
// had been heard in all segments, and leaves out what was hardly heard.
func (o *Orders) leaveOut() {
	for k, n := range o.heard {
		if o.heard[k] = n / o.Segments; o.hides(k) {
			o.Z[k], o.Raw[k] = 0, 0
			continue
		}
		o.Z[k] /= o.heard[k]
		o.Raw[k] /= o.heard[k]
	}
}

// addHeard adds z to a sum, without what is hidden.
func addHeard(sum, z []float64, hidden []bool) {
	for k, v := range z {
		if hidden == nil || !hidden[k] {
			sum[k] += v
		}
	}
}

// leastHeard is the share of the segments that must tell of a bin for it to count.
const leastHeard = 0.25

// hides reports whether nothing is known of bin k.
func (o *Orders) hides(k int) bool { return k < len(o.heard) && o.heard[k] < leastHeard }
