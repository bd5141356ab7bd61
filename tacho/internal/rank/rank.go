// Package rank finds values by their rank without sorting all of them.
package rank

import "sort"

// Select returns the value that would stand at place k of x if x were sorted,
// and changes the order of x. There must be no NaN and k must be a place of x
// (C. A. R. Hoare, Algorithm 65: Find, Communications of the ACM, 1961).
func Select(x []float64, k int) float64 {
	lo, hi := 0, len(x)-1
	for hi-lo > 12 {
		// the middle one of three is in the middle more often than one
		a, b, c := x[lo], x[(lo+hi)/2], x[hi]
		p := max(min(a, b), min(max(a, b), c))
		i, j := lo, hi
		for i <= j {
			for x[i] < p {
				i++
			}
			for p < x[j] {
				j--
			}
			if i <= j {
				x[i], x[j] = x[j], x[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return x[k]
		}
	}
	for i := lo + 1; i <= hi; i++ {
		v := x[i]
		j := i
		for ; j > lo && x[j-1] > v; j-- {
			x[j] = x[j-1]
		}
		x[j] = v
	}
	return x[k]
}

// Window holds values in order; some come and some go.
type Window struct{ sorted []float64 }

// Add takes v in.
func (w *Window) Add(v float64) {
	i := sort.SearchFloat64s(w.sorted, v)
	w.sorted = append(w.sorted, 0)
	copy(w.sorted[i+1:], w.sorted[i:])
	w.sorted[i] = v
}

// Drop takes v, which must be there, out.
func (w *Window) Drop(v float64) {
	i := sort.SearchFloat64s(w.sorted, v)
	w.sorted = append(w.sorted[:i], w.sorted[i+1:]...)
}

// Len returns the number of values.
func (w *Window) Len() int { return len(w.sorted) }

// At returns the value at place i.
func (w *Window) At(i int) float64 { return w.sorted[i] }

// Distance returns the value at place k of what distance gives for all values,
// if that falls up to place m and rises from there on.
func (w *Window) Distance(m, k int, distance func(v float64) float64) float64 {
	// the next nearer one from either side
	i, j := m, m+1
	for {
		var d float64
		switch {
		case j >= len(w.sorted):
			d = distance(w.sorted[i])
			i--
		case i < 0:
			d = distance(w.sorted[j])
			j++
		default:
			a, b := distance(w.sorted[i]), distance(w.sorted[j])
			if a <= b {
				d = a
				i--
			} else {
				d = b
				j++
			}
		}
		if k == 0 {
			return d
		}
		k--
	}
}
