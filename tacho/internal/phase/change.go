package phase

import (
	"math"
	"slices"
)

// shareChanges shares out, in the intensities of the steps, where they change from one
// level to another, as where a push ends. The steps cannot tell exactly: the change
// may as well lie up to maybeOff steps earlier or later, and it counts there by how
// likely that is. Bursts are shared out already.
func (l *levels) shareChanges(out []float64) {
	n, known := len(l.of), l.walk()
	for start := 1; start < n; {
		a := l.alike(start)
		if a == n {
			break
		}
		b := l.alike(a)
		// a step at least stays of either side
		from, end := max(start+1, a-maybeOff), min(a+maybeOff, b-1)
		if end > from+1 && !l.burst(start, a) && !l.burst(a, b) && slices.Max(l.shared[from:end]) == 0 {
			l.shareChange(out[from:end], known.before(from), from, a, end)
		}
		start = a
	}
}

// shareChange shares the change of level at step a out over the steps from to end-1;
// before is the belief at the point before from.
func (l *levels) shareChange(out []float64, before belief, from, a, end int) {
	own := append([]int(nil), l.of[from:end]...)
	defer copy(l.of[from:end], own)
	left, right := l.of[a-1], l.of[a]
	like := make([]float64, 0, end-from+1)
	top := math.Inf(-1)
	var origin vec
	for at := from; at <= end; at++ {
		for i := from; i < end; i++ {
			l.of[i] = right
			if i < at {
				l.of[i] = left
			}
		}
		b, v := l.forward(before, from, end)
		if at == from {
			origin = b.x
		}
		v += agreement(b, l.later[end-1], origin)
		like = append(like, v)
		top = math.Max(top, v)
	}
	sum := 0.0
	for i := range like {
		like[i] = math.Exp(like[i] - top)
		sum += like[i]
	}
	passed := 0.0 // how likely the change lies before step i
	for i := range out {
		passed += like[i] / sum
		out[i] += (1-passed)*l.q[left] + passed*l.q[right] - l.q[own[i]]
	}
}
