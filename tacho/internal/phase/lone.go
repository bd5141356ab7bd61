package phase

import (
	"math"
	"slices"
)

// The phase of a lone line is all there is of it: what a room does to that, no other line
// contradicts. But it does as much to the level: where the rate sweeps a line through the
// response of a room, which is that of many echoes at random (M. Schroeder 1954, Acustica 4:
// 594, from memory), the logarithm of that changes as fast in its real part, the level, as in
// its imaginary one, the phase.

const (
	// fewLines is up to how many lines stand for a lone one.
	fewLines = 2
	// loneDelay is by how many seconds a room of a home may spread the sound: where the level
	// comes and goes faster than that would make it, that much is the room's at most.
	loneDelay = 0.03
	// shortestSway is, in octaves from the first of the spans, the shortest time over which
	// it is told from those of the first two.
	shortestSway = -2
)

// Swayed returns the result with what a room does to a lone line in its variances. They say
// what is known of a motion in the end: a gain that changes, or blades that are unlike, may
// make a level come and go as well, and what is a rotor's, and which, is judged without.
func (r *Result) Swayed() *Result {
	if !slices.ContainsFunc(r.Motion, func(m Smooth) bool { return m.Sway > 0 }) {
		return r
	}
	s := *r
	s.Motion, s.moments = slices.Clone(r.Motion), slices.Clone(r.moments)
	for i := range s.Motion {
		s.Motion[i].swayed()
	}
	for i := range s.moments {
		s.moments[i].swayed()
	}
	return &s
}

func (s *Smooth) swayed() {
	s.widen(1 + s.Sway)
	s.Sway = 0
}

// sway sums, over looks, the squares of the rates by which the level changes, without what
// noise makes of them, and the variances of that, and counts looks.
type sway struct{ squares, chance, looks float64 }

// add adds so many times e.
func (s *sway) add(e sway, times float64) {
	s.squares += times * e.squares
	s.chance += times * e.chance
	s.looks += times * e.looks
}

// surely returns the mean of the squares, as far as it is surely more than chance: looks overlap
// by half, which doubles it.
func (s sway) surely() float64 {
	return math.Max(0, s.squares-2*math.Sqrt(2*s.chance)) / s.looks
}

// swayed returns by what variance, in rad²/s², the rate of few lines may be off for a room, per
// block, by how their level changes beyond what goes with the rate. Each block has in effect
// the mean of a time of so many octaves above the first span. Where more lines are heard it is
// nothing.
func (l *locked) swayed(motion []Smooth, alpha, octaves []float64) []float64 {
	n := len(motion)
	steep, slopes := make([]float64, n+1), make([]float64, n+1) // sums over the blocks before
	for i, a := range alpha {
		steep[i+1], slopes[i+1] = steep[i]+a/motion[i].Omega, slopes[i]+a*a
	}
	mean := func(sums []float64, from, to int) float64 { return (sums[to] - sums[from]) / float64(to-from) }
	few := func(q comparison) bool { return q.heavy > 0 && q.lines <= fewLines }
	// the faster it turns the louder it is: by a power of the rate
	along, all := 0.0, 1e-300
	for _, q := range l.looks[1] {
		if few(q) {
			h, w := mean(steep, q.from, q.to), q.heavy/(q.order*q.order)
			along += w * q.grows * h
			all += w * h * h
		}
	}
	power := math.Max(0, along/all)
	var over [len(spans)][]float64
	for k, span := range spans {
		over[k] = make([]float64, n)
		sums := make([]sway, n+1)
		for _, q := range l.looks[k] {
			share := 1 / float64(q.to-q.from)
			e := sway{looks: share}
			if few(q) {
				x := (q.grows - power*mean(steep, q.from, q.to)) / q.order
				e.squares, e.chance = share*(x*x-1/q.heavy), share*2/(q.heavy*q.heavy)
			}
			for i := q.from; i < q.to; i++ {
				sums[i+1].add(e, 1)
			}
		}
		for i := range n {
			sums[i+1].add(sums[i], 1)
		}
		for i := range n {
			lo, hi := l.near(i, math.Max(1, span))
			d := sums[hi]
			if d.add(sums[lo], -1); d.looks > 0 {
				over[k][i] = d.surely()
			}
		}
	}
	out := make([]float64, n)
	for i := range out {
		lo, hi := l.near(i, 1)
		most := loneDelay * loneDelay * mean(slopes, lo, hi)
		out[i] = math.Min(most, overTime(over, i, octaves[i]))
	}
	return out
}

// overTime returns what there is over a time of so many octaves above the first span at block
// i. Over times shorter than that it goes on as it does between the first two.
func overTime(over [len(spans)][]float64, i int, octave float64) float64 {
	x := math.Max(shortestSway, math.Min(octave, float64(len(spans)-1)))
	k := min(int(math.Max(0, x)), len(spans)-2)
	a, b, u := over[k][i], over[k+1][i], x-float64(k)
	if u < 0 && 0 < b && b < a {
		return a * math.Pow(b/a, u)
	}
	u = math.Max(0, u)
	return (1-u)*a + u*b
}
