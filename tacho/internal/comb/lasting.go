package comb

import (
	"cmp"
	"math"
	"slices"

	"rotorhum/tacho/internal/work"
)

// A candidate lasts where others lie, for lastingReach seconds on either side of it,
// along a rate whose slope differs from its own by lastingSlopes steps of slopeStep at
// most, and bends by none or bendStep (shares per second, and per second²). They lie
// there within lastingNear, and farGrows more per second; each counts for mostLasting
// nats at most, as a louder one is no more of a rotor.
const (
	lastingReach          = 0.6
	lastingSlopes         = 8
	slopeStep, bendStep   = 0.02, 0.15
	lastingNear, farGrows = 0.003, 0.01
	mostLasting           = 4.0
	lastingBends          = 1
)

// LastingEvery is the number of moments from one that [Frames.Lasting] looks at to the
// next.
const LastingEvery = 2

// Lasting returns, at every second moment, the candidates with the evidence that those
// before and after give them for a rate that changes evenly for more than a second:
// what turns goes on beside a voice that is louder, which does not. It gives up with the
// error of stopped, which it asks now and then.
func (f *Frames) Lasting(stopped func() error) (*Frames, error) {
	out := &Frames{Hop: LastingEvery * f.Hop, Moments: make([]Moment, (len(f.Moments)+LastingEvery-1)/LastingEvery)}
	t := f.byRate()
	work.Each(len(out.Moments), func(n int) {
		if stopped() != nil {
			return
		}
		i := n * LastingEvery
		var around []int
		reach := int(lastingReach / out.Hop)
		for k := -reach; k <= reach; k++ {
			if j := i + k*LastingEvery; k != 0 && j >= 0 && j < len(f.Moments) {
				around = append(around, j)
			}
		}
		m := Moment{Power: f.Moments[i].Power}
		for _, s := range f.Moments[i].States {
			s.Slope, s.Evidence = t.lasts(s, i, around, f.Hop)
			m.States = append(m.States, s)
		}
		out.Moments[n] = m
	})
	return out, stopped()
}

// byRate are the candidates of all moments by the logarithms of their rates.
type byRate [][]State

func (f *Frames) byRate() byRate {
	out := make(byRate, len(f.Moments))
	for i, m := range f.Moments {
		for _, s := range m.States {
			out[i] = append(out[i], State{Rate: math.Log(s.Rate), Evidence: math.Min(mostLasting, s.Evidence)})
		}
		slices.SortFunc(out[i], func(a, b State) int { return cmp.Compare(a.Rate, b.Rate) })
	}
	return out
}

// at returns the evidence of the best candidate of a moment within tol of x.
func (t byRate) at(moment int, x, tol float64) (best float64) {
	m := t[moment]
	i, _ := slices.BinarySearchFunc(m, x-tol, func(s State, x float64) int { return cmp.Compare(s.Rate, x) })
	for ; i < len(m) && m[i].Rate <= x+tol; i++ {
		best = math.Max(best, m[i].Evidence)
	}
	return best
}

// lasts returns the slope of the rate through candidate s of moment i for which those
// of the moments around give most evidence, and that, as if each moment were there.
func (t byRate) lasts(s State, i int, around []int, hop float64) (slope, nats float64) {
	x := math.Log(s.Rate)
	for d := -lastingSlopes; d <= lastingSlopes; d++ {
		for b := -lastingBends; b <= lastingBends; b++ {
			a, bend, sum := s.Slope+slopeStep*float64(d), bendStep*float64(b), 0.0
			for _, j := range around {
				dt := hop * float64(j-i)
				sum += t.at(j, x+a*dt+bend*dt*dt/2, lastingNear+farGrows*math.Abs(dt))
			}
			if sum > nats {
				slope, nats = a, sum
			}
		}
	}
	return slope, LastingEvery * nats / float64(max(1, len(around)))
}
