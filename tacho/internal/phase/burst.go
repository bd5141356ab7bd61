package phase

import (
	"math"
	"slices"
)

// A burst is a few steps, mostBurst at most, of a higher intensity than before
// and after: a kink. It may as well lie up to maybeOff steps earlier or later.
const mostBurst, maybeOff = 4, 6

// raised reports whether the steps a to b-1, all of one level, have a higher one than
// those before and after.
func (l *levels) raised(a, b int) bool {
	return a > 1 && b < len(l.of) && l.of[a] > l.of[a-1] && l.of[a] > l.of[b]
}

// burst reports whether such steps are a burst.
func (l *levels) burst(a, b int) bool { return l.raised(a, b) && b-a <= mostBurst }

// sharpen looks, for every run of a higher intensity than before and after, for a
// burst that explains the points better: no sweep can shorten a run and raise it at
// once, though a speed changes its slope in a moment.
func (l *levels) sharpen() {
	n, known := len(l.of), l.walk()
	for a := 1; a < n; {
		b := l.alike(a)
		if l.raised(a, b) && b-a > 1 {
			if l.shorten(known.before(a), a, b) {
				l.stale = b - 1
			}
		}
		a = b
	}
}

// trial is a burst in the steps from to end-1, and the likelihood of the points
// with it.
type trial struct {
	from, end, level int
	like             float64
}

// shorten replaces the run of the steps a to b-1 by the likeliest burst found within
// it, with the neighbours' levels on its sides, and reports whether one is likelier
// than the run. before is the belief at the point before. Bursts of half the length,
// a quarter and so on are tried, each around the best of those before; the run's
// intensity is shared out over those of the length found.
func (l *levels) shorten(before belief, a, b int) (better bool) {
	level, left, right := l.of[a], l.of[a-1], l.of[b]
	lay := func(t trial) {
		for i := a; i < b; i++ {
			switch {
			case i < t.from:
				l.of[i] = left
			case i < t.end:
				l.of[i] = t.level
			default:
				l.of[i] = right
			}
		}
	}
	whole, top := l.forward(before, a, b)
	origin := whole.x
	top += agreement(whole, l.later[b-1], origin)
	kept := append([]int(nil), l.of[a:b]...)
	lo, hi, least := a, b, level
	for width := (b - a) / 2; width > 0; width /= 2 {
		var tried []trial
		var best trial
		for k := least; k <= min(least+2, len(l.q)-1); k++ {
			for i := lo; i+width <= hi; i += max(1, width/2) {
				t := trial{from: i, end: i + width, level: k}
				lay(t)
				v, like := l.forward(before, a, b)
				t.like = like + agreement(v, l.later[b-1], origin) - calm*float64(k-level)
				if tried = append(tried, t); best.end == 0 || t.like > best.like {
					best = t
				}
			}
		}
		if best.like > top+1e-9 {
			top, better = best.like, true
			lay(best)
			copy(kept, l.of[a:b])
			likes := make([]float64, len(tried))
			for i, t := range tried {
				likes[i] = t.like
			}
			l.mix(l.shared[a:b], a, likes, func(i int) { lay(tried[i]) })
		}
		lo, hi, least = max(a, best.from-width/2), min(b, best.end+width/2), best.level
	}
	copy(l.of[a:b], kept)
	return better
}

// spread returns the intensity of every step. Where exactly a burst lies is not
// known: its intensity is shared out over the places where it may be, by how
// likely it is there.
func (l *levels) spread() []float64 {
	out := make([]float64, len(l.of))
	for i, k := range l.of {
		if out[i] = l.shared[i]; out[i] == 0 {
			out[i] = l.q[k]
		}
	}
	n, known := len(l.of), l.walk()
	free := 1 // the end of the burst before
	for a := 1; a < n; {
		b := l.alike(a)
		next := b
		if l.burst(a, b) && l.shared[a] == 0 {
			from, end := max(free, a-maybeOff), min(n, b+maybeOff, l.alike(b))
			l.share(out[from:end], known.before(from), from, a, b, end)
			free, next = b, b
		}
		a = next
	}
	return out
}

// share shares the burst of the steps a to b-1 out over from to end-1; before is
// the belief at the point before from.
func (l *levels) share(out []float64, before belief, from, a, b, end int) {
	own := append([]int(nil), l.of[from:end]...)
	defer copy(l.of[from:end], own)
	left, right := l.of[a-1], own[min(b, end-1)-from]
	if b < len(l.of) {
		right = l.of[b]
	}
	var like []float64
	var origin vec
	lay := func(shift int) {
		copy(l.of[from:end], own)
		for i := a; i < b; i++ {
			if shift > 0 {
				l.of[i] = left
			} else {
				l.of[i] = right
			}
		}
		for i := a + shift; i < b+shift; i++ {
			l.of[i] = own[a-from]
		}
	}
	first, last := from-a, end-b
	for shift := first; shift <= last; shift++ {
		lay(shift)
		at, v := l.forward(before, from, end)
		if shift == first {
			origin = at.x
		}
		v += agreement(at, l.later[end-1], origin)
		like = append(like, v)
	}
	l.mix(out, from, like, func(i int) { lay(first + i) })
}

// mix writes the mean of the intensities from step from on, over what lay lays
// out, by their likelihoods.
func (l *levels) mix(out []float64, from int, likes []float64, lay func(i int)) {
	top, sum := slices.Max(likes), 0.0
	for _, v := range likes {
		sum += math.Exp(v - top)
	}
	clear(out)
	for k, v := range likes {
		lay(k)
		w := math.Exp(v-top) / sum
		for i := range out {
			out[i] += w * l.q[l.of[from+i]]
		}
	}
}
