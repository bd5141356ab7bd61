package comb

import (
	"math"

	"rotorhum/tacho/internal/evidence"
	"rotorhum/tacho/internal/rank"
)

// The scan of a frame starts from its strongest lines: each could be any of the
// first harmonics of a comb.
const (
	seedLines     = 24
	seedHarmonics = 10
	statesPerView = 8
)

// combs looks for combs of lines in single frames.
type combs struct {
	curve *evidence.Curve
	prior []float32 // of combs that end at each harmonic
	peaks []int32
	order []float32
	steps []float32 // of combs to be weighed, in bins, and their evidence
	sums  []float32
	top   []State
}

func newCombs(harmonics int) *combs {
	c := &combs{curve: frameCurve()}
	order := evidence.NewOrder(harmonics)
	for m := 1; m <= harmonics; m++ {
		c.prior = append(c.prior, float32(order.Log(m)))
	}
	return c
}

// scan returns the best rates of one frame from the logarithms u of the power of
// its bins and their evidence ev.
func (c *combs) scan(v *view, u, ev []float32) []State {
	c.top = c.top[:0]
	if cap(c.peaks) < len(ev) {
		c.peaks = make([]int32, 0, len(ev))
	}
	c.peaks = peaks(c.peaks[:0], ev, u, 2, len(ev)-1)
	least := float32(math.Inf(-1))
	if n := len(c.peaks); n > seedLines {
		c.order = c.order[:0]
		for _, k := range c.peaks {
			c.order = append(c.order, u[k]) // clear lines are above the noise: positive
		}
		least = rank.Near(c.order, n-seedLines, 0, 23)
	}
	c.steps = c.steps[:0]
	lo, hi := float32(v.lo/v.df), float32(v.hi/v.df)
	for _, k := range c.peaks {
		if u[k] < least {
			continue
		}
		// parabola through the logarithms of three bins
		x := float32(k) + vertex(u[k-1], u[k], u[k+1])
		for _, share := range seedShares {
			step := x * share
			if step < lo {
				break
			}
			if step <= hi {
				c.steps = append(c.steps, step)
			}
		}
	}
	if len(c.sums) < len(c.steps) {
		c.sums = make([]float32, cap(c.steps))
	}
	weighCombs(c.sums[:len(c.steps)], c.steps, ev, c.prior)
	worst := float32(math.Inf(-1)) // of as many as are kept
	for i, e := range c.sums[:len(c.steps)] {
		if !(e > worst) {
			continue
		}
		c.keep(State{Rate: float64(c.steps[i]) * v.df, Evidence: float64(e)})
		if n := len(c.top); n == statesPerView {
			worst = float32(c.top[n-1].Evidence)
		}
	}
	return c.top
}

// seedShares are one over each of the first harmonics.
var seedShares = func() (s [seedHarmonics]float32) {
	for i := range s {
		s[i] = 1 / float32(i+1)
	}
	return s
}()

// vertex returns where the parabola through a, b, c at -1, 0, 1 has its top,
// and 0 where it has none.
func vertex(a, b, c float32) float32 {
	d := a - 2*b + c
	if !(d < 0) {
		return 0
	}
	return max(-0.5, min(0.5, 0.5*(a-c)/d))
}

// weighCombsGo sets sums[i] to the evidence of the comb with lines steps[i] bins
// apart: that of the best number of harmonics, with their prior.
func weighCombsGo(sums, steps, ev, prior []float32) {
	top := float32(len(ev) - 2)
	for i, step := range steps {
		run, best := float32(0), float32(math.Inf(-1))
		x := step
		for _, p := range prior {
			if x >= top {
				break
			}
			k := int(x)
			r := x - float32(k)
			run += ev[k] + r*(ev[k+1]-ev[k])
			if e := run + p; e > best {
				best = e
			}
			x += step
		}
		sums[i] = best
	}
}

// keep adds s, which is better than the last of as many as are kept, to the best
// states so far, in order, unless one like it is there.
func (c *combs) keep(s State) {
	for i, q := range c.top {
		if math.Abs(q.Rate-s.Rate) < 0.004*s.Rate {
			if q.Evidence >= s.Evidence {
				return
			}
			c.top = append(c.top[:i], c.top[i+1:]...)
			break
		}
	}
	if len(c.top) == statesPerView {
		c.top = c.top[:statesPerView-1]
	}
	c.top = append(c.top, s)
	for j := len(c.top) - 1; j > 0 && c.top[j].Evidence > c.top[j-1].Evidence; j-- {
		c.top[j], c.top[j-1] = c.top[j-1], c.top[j]
	}
}
