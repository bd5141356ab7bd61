package sound

import (
	"math"
	"slices"
)

// A line whose frequency swings has pairs of lines beside it, as far off as the swing
// is quick, and their amplitude over its own grows with the line's order, as the swing
// of its phase does (frequency modulation of a small index, handbook). A supply does
// not swing like that; where its loudness does, the pairs are the same share of every
// line.

const (
	// pairAlike is how much stronger one line of a pair may be than the other, in power.
	pairAlike = 2.0
	// pairGrows is the power of the order with which the pairs' share of the power must
	// grow at least: it is 2 for a swing of the frequency, 0 for one of the loudness.
	pairGrows = 1.0
	// pairClear is by how much a pair must exceed the skirts of its line, in power.
	pairClear = 30.0
)

// swings reports whether the lines of h are those of a rotor that swings: beside two or
// more of them stands a pair at the same distance, the stronger the higher they are.
// least is the power over the floor of what is a line.
func (h *Hum) swings(m *medians, least float64) bool {
	first := int(2.5*m.cell/m.df) + 2
	for d := first; d <= int(humAround/m.df); d++ {
		off := float64(d) * m.df
		// the side lobes of a Hann window, their tops, over its middle
		x := off / m.cell
		skirt := 1 / (math.Pi * x * (x*x - 1))
		skirt *= skirt
		// of the logarithms of order and share
		var n, sx, sy, sxx, sxy float64
		for _, q := range h.Lines {
			f := float64(q) * h.Base
			a, b, own := m.ratio(f-off), m.ratio(f+off), m.ratio(f)
			if math.Min(a, b) < math.Max(least, pairClear*skirt*own) || math.Max(a, b) > pairAlike*math.Min(a, b) {
				continue
			}
			order, share := math.Log(float64(q)), math.Log(math.Sqrt(a*b)/own)
			n++
			sx += order
			sy += share
			sxx += order * order
			sxy += order * share
		}
		if n >= 2 && n*sxy-sx*sy > pairGrows*(n*sxx-sx*sx) {
			return true
		}
	}
	return false
}

// leaveSides leaves out of h the lines that stand beside a louder one as another as loud
// does on its other side: where but one line of a rotor that swings lies low, one of its
// pair may lie where a supply has a line. It reports whether what is left may be a supply.
func (h *Hum) leaveSides(m *medians, least float64) bool {
	h.Lines = slices.DeleteFunc(h.Lines, func(q int) bool { return m.side(float64(q)*h.Base, least) })
	return h.low()
}

// side reports whether the line at f is one of a pair beside a louder line.
func (m *medians) side(f, least float64) bool {
	own := m.ratio(f)
	for d := int(2.5*m.cell/m.df) + 2; d <= int(humAround/m.df); d++ {
		for _, off := range [...]float64{float64(d) * m.df, -float64(d) * m.df} {
			if f+2*off < humAround || f+2*off > 0.45*m.rate || m.ratio(f+off) < pairAlike*own {
				continue
			}
			if other := m.ratio(f + 2*off); other > math.Max(least, own/pairAlike) && other < pairAlike*own {
				return true
			}
		}
	}
	return false
}
