package phase

import (
	"math"
	"sort"
)

// A rotor that is driven or braked by equal ratios, as by a friction in proportion to
// its speed, has an acceleration in proportion to its rate: it bends by alpha^2/omega,
// and no change of what drives it is needed for that. Where a rate changes steeply
// the smoother is told so, if the phases are then likelier.

// lawSlope is the change of rate, in shares per second, from which on it matters. The
// bending is found lawRounds times, along a motion that knows of it the second time.
const lawSlope, lawRounds = 0.3, 2

// law is a bending of the motion: its change of acceleration (rad/s^3) at moments, and
// kinks.
type law struct {
	t, jerk []float64
	kinks   []kink
}

// ratios returns the bending of equal ratios along the motion found at the given
// points.
func ratios(p []Point, motion []Smooth) *law {
	l := &law{t: make([]float64, len(p)), jerk: make([]float64, len(p))}
	for i, m := range motion {
		l.t[i] = p[i].T
		l.jerk[i] = math.Max(0, m.Alpha*m.Alpha-m.AlphaVar) / m.Omega
	}
	return l
}

// at returns the bending at t.
func (l *law) at(t float64) float64 {
	n := len(l.t)
	if n == 0 {
		return 0
	}
	i := sort.SearchFloat64s(l.t, t)
	if i == 0 || i == n {
		return l.jerk[min(i, n-1)]
	}
	u := (t - l.t[i-1]) / (l.t[i] - l.t[i-1])
	return (1-u)*l.jerk[i-1] + u*l.jerk[i]
}

// bends returns the motion that the bending alone makes of rest, at the given points.
func (l *law) bends(p []Point) []Smooth {
	out := make([]Smooth, len(p))
	if l == nil {
		return out
	}
	k := 0
	for k < len(l.kinks) && l.kinks[k].t <= p[0].T {
		k++
	}
	for i := 1; i < len(p); i++ {
		b := out[i-1]
		for t, end := p[i-1].T, p[i].T; t < end; {
			to := end
			if n := sort.Search(len(l.t), func(n int) bool { return l.t[n] > t }); n < len(l.t) {
				to = math.Min(to, l.t[n])
			}
			kinked := k < len(l.kinks) && l.kinks[k].t <= to
			if kinked {
				to = l.kinks[k].t
			}
			h, j := to-t, l.at(t)
			more := l.at(to) - j
			b = Smooth{Phi: b.Phi + h*(b.Omega+h*(b.Alpha/2+h*(j/6+more/24))), Omega: b.Omega + h*(b.Alpha+h*(j/2+more/6)), Alpha: b.Alpha + h*(j+more/2)}
			if kinked {
				b.Alpha += l.kinks[k].jump
				k++
			}
			t = to
		}
		out[i] = b
	}
	return out
}

// without returns the points without the bending.
func (l *law) without(p []Point) []Point {
	if l == nil {
		return p
	}
	out := make([]Point, len(p))
	for i, b := range l.bends(p) {
		out[i] = p[i]
		out[i].Phi -= b.Phi
		out[i].Rate -= b.Omega
	}
	return out
}

// with adds the bending to the motion at the given points.
func (l *law) with(p []Point, motion []Smooth) {
	if l == nil {
		return
	}
	for i, b := range l.bends(p) {
		motion[i].Phi += b.Phi
		motion[i].Omega += b.Omega
		motion[i].Alpha += b.Alpha
	}
}

// varying finds the intensities that explain the points, which vary, and the bending
// of equal ratios if that makes them likelier where the motion is steep: first that of
// the motion without it, then of the better one. It does not try it where one intensity
// for all shows already that the motion bends otherwise.
func (f *follower) varying(lo, hi float64) (bend *law, err error) {
	r, whole, stopped := f.r, f.r.prior, f.src.Stopped
	var score float64
	if r.prior.Q, score, err = FitVarying(r.Points, f.prior, lo, hi, r.Q, stopped); err != nil || len(f.steep) == 0 {
		return nil, err
	}
	motion, _ := Run(r.Points, r.prior)
	for range lawRounds {
		l := ratios(r.Points, motion)
		bent, own := l.without(r.Points), f.prior
		if bend == nil && likeOf(bent, whole) < likeOf(r.Points, whole)-changeCost {
			break
		}
		q, err := Fit(bent, f.prior, lo, hi, stopped)
		if err != nil {
			return nil, err
		}
		var better float64
		if own.Q, better, err = FitVarying(bent, f.prior, lo, hi, q, stopped); err != nil {
			return nil, err
		}
		if better < score {
			break
		}
		bend, r.prior, r.Q, score = l, own, q, better
		motion, _ = Run(bent, own)
		l.with(r.Points, motion)
	}
	return f.kinked(bend, motion, lo, hi)
}
