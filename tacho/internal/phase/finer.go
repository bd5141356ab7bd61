package phase

import (
	"math"
	"sort"
)

// A speed changes its slope from one moment to the next, while blocks of a slow
// rotor lie far apart. In the end a steep motion is smoothed at moments between them,
// too, so that a kink is found where it is.

// finest is the time, in seconds, from one such moment to the next: where the rate
// between two blocks has more than the share bridged of the variance that it has at
// them. So many blocks before and after a steep part, or a kink, belong to it.
const finest, bridged, nearSteep = 0.002, 0.1, 6

// Moment is the motion at a moment.
type Moment struct {
	T float64
	Smooth
}

// steepParts returns from when to when a motion is steep, with some points more on
// either side: where its rate surely changes by lawSlope shares per second.
func steepParts(p []Point, motion []Smooth) (parts [][2]float64) {
	for i, m := range motion {
		if m.steep() {
			parts = withNear(parts, p, i, i)
		}
	}
	return parts
}

// steep reports whether the rate surely changes by lawSlope shares per second.
func (s Smooth) steep() bool { return math.Abs(s.Alpha)-2*math.Sqrt(s.AlphaVar) > lawSlope*s.Omega }

// kinkParts returns from when to when, within steep parts, a motion is known worse
// between two points than at them, with some more on either side: between two at which
// rate and slope are known, the rate is known to q h^3/192 (the variance, half way, of
// the integral of a Brownian motion whose ends are held).
func kinkParts(p []Point, motion []Smooth, prior Prior, steep [][2]float64) (parts [][2]float64) {
	for i := 1; i < len(p); i++ {
		for len(steep) > 0 && steep[0][1] < p[i-1].T {
			steep = steep[1:]
		}
		if len(steep) == 0 {
			break
		}
		h := p[i].T - p[i-1].T
		known := math.Max(motion[i-1].OmegaVar, motion[i].OmegaVar)
		if p[i].T >= steep[0][0] && h > finest && prior.q(i)*h*h*h/192 > bridged*known {
			parts = withNear(parts, p, i, i-1)
		}
	}
	return parts
}

// withNear adds the points first to last to parts, with nearSteep more on either side.
// A part that reaches an end of the points has no end there.
func withNear(parts [][2]float64, p []Point, first, last int) [][2]float64 {
	from, to := math.Inf(-1), math.Inf(1)
	if first > nearSteep {
		from = p[first-nearSteep].T
	}
	if last+nearSteep < len(p)-1 {
		to = p[last+nearSteep].T
	}
	if n := len(parts); n > 0 && from <= parts[n-1][1] {
		parts[n-1][1] = to
		return parts
	}
	return append(parts, [2]float64{from, to})
}

// finer returns the points, with others between them around kinks and all along steep
// parts that bend, where the points are among them, and the prior for all.
func (f *follower) finer(bend *law, lo, hi float64) (all []Point, at []int, fine Prior, err error) {
	r := f.r
	r.prior.Q = r.prior.each(len(r.Points))
	openEnded(r.Points, r.prior.Q, r.Q)
	if f.between = nil; bend != nil {
		f.between = f.steep
	} else if len(f.steep) > 0 {
		motion, _ := Run(r.Points, r.prior)
		f.between = kinkParts(r.Points, motion, r.prior, f.steep)
	}
	all, at = filled(r.Points, f.between, f.now.T[0], f.now.T[len(f.now.T)-1])
	if at == nil {
		return all, nil, r.prior, nil
	}
	all, at = bend.amid(all, at)
	fine = f.prior
	fine.Free = bend.free(all)
	if fine.Q, _, err = FitVarying(bend.without(all), fine, lo, hi, r.Q, f.src.Stopped); err != nil {
		return nil, nil, fine, err
	}
	fine.Q = fine.each(len(all))
	openEnded(all[at[0]:at[len(at)-1]+1], fine.Q[at[0]:], r.Q)
	r.prior.Q = gathered(all, fine.Q, at)
	return all, at, fine, nil
}

// filled returns the points with empty ones between that are further apart than
// finest, within the given parts, and where each of them is then: nil for where it was.
// Where a part begins at the first point or ends at the last one, the points go on to
// the ends of the course, from and to.
func filled(p []Point, parts [][2]float64, from, to float64) (all []Point, at []int) {
	if len(parts) == 0 {
		return p, nil
	}
	first, last := p[0].T, p[len(p)-1].T
	way := func(a, b float64) { // from a to b, without these
		n := int(math.Ceil((b-a)/finest - 0.5))
		for k := 1; k < n; k++ {
			all = append(all, Point{T: a + (b-a)*float64(k)/float64(n), Var: math.Inf(1)})
		}
	}
	if parts[0][0] <= first && from < first-finest {
		all = append(all, Point{T: from, Var: math.Inf(1)})
		way(from, first)
	}
	atEnd := parts[len(parts)-1][1] >= last && to > last+finest
	at = make([]int, len(p))
	for i, v := range p {
		for len(parts) > 0 && parts[0][1] < v.T {
			parts = parts[1:]
		}
		if i > 0 && len(parts) > 0 && parts[0][0] <= p[i-1].T {
			way(p[i-1].T, v.T)
		}
		at[i] = len(all)
		all = append(all, v)
	}
	if atEnd {
		way(last, to)
		all = append(all, Point{T: to, Var: math.Inf(1)})
	}
	return all, at
}

// gathered returns the intensity for the step to each point, from those for the
// steps between: with the same change of acceleration.
func gathered(all []Point, q []float64, at []int) []float64 {
	if len(q) == 1 || at == nil {
		return q
	}
	out := make([]float64, len(at))
	for i, k := range at {
		if i == 0 {
			out[0] = q[0]
			continue
		}
		from := at[i-1]
		for j := from + 1; j <= k; j++ {
			out[i] += q[j] * (all[j].T - all[j-1].T) / (all[k].T - all[from].T)
		}
	}
	return out
}

// between finds the motion at the points and at those between them, all, where the
// points are at.
func (r *Result) between(all []Point, at []int, bend *law, prior Prior) {
	if at == nil {
		r.Motion, r.Like = Run(bend.without(r.Points), prior)
		bend.with(r.Points, r.Motion)
		return
	}
	for i, k := range at {
		all[k] = r.Points[i]
	}
	motion, _ := Run(bend.without(all), prior)
	bend.with(all, motion)
	r.Like = likeOf(bend.without(r.Points), r.prior)
	r.Motion = make([]Smooth, len(at))
	for i, k := range at {
		r.Motion[i] = motion[k]
	}
	r.moments = make([]Moment, len(all))
	for i, m := range motion {
		r.moments[i] = Moment{all[i].T, m}
	}
}

// widenBetween widens what is known of the motion between the blocks as at these, where
// the variances were multiplied by wide.
func (r *Result) widenBetween(wide func(i int) float64) {
	i := 0
	for k := range r.moments {
		m := &r.moments[k]
		for i+1 < len(r.Blocks)-1 && r.Blocks[i+1].T <= m.T {
			i++
		}
		a, b := r.Blocks[i].T, r.Blocks[i+1].T
		u := math.Max(0, math.Min(1, (m.T-a)/(b-a)))
		m.widen((1-u)*wide(i) + u*wide(i+1))
		m.Sway = (1-u)*r.Motion[i].Sway + u*r.Motion[i+1].Sway
	}
}

// widen multiplies the variances.
func (s *Smooth) widen(by float64) {
	s.Wide = math.Max(1, s.Wide) * by
	s.PhiVar *= by
	s.OmegaVar *= by
	s.AlphaVar *= by
}

// within returns the moments between two times, both included, nil if there are none.
func (r *Result) within(from, to float64) []Moment {
	m := r.moments
	i := sort.Search(len(m), func(i int) bool { return m[i].T >= from })
	end := sort.Search(len(m), func(i int) bool { return m[i].T > to })
	if end-i < 2 {
		return nil
	}
	return m[i:end:end]
}

// Around returns the motion at the moments before and after t, or at the first two
// or last two.
func (r *Result) Around(t float64) (before, after Moment) {
	if r.moments != nil {
		m := r.moments
		i := sort.Search(len(m), func(i int) bool { return m[i].T >= t })
		i = min(max(i, 1), len(m)-1)
		return m[i-1], m[i]
	}
	b := r.Blocks
	i := sort.Search(len(b), func(i int) bool { return b[i].T >= t })
	i = min(max(i, 1), len(b)-1)
	return Moment{b[i-1].T, r.Motion[i-1]}, Moment{b[i].T, r.Motion[i]}
}

// Moments returns the motion at all moments for which it was found.
func (r *Result) Moments() []Moment {
	if r.moments != nil {
		return r.moments
	}
	out := make([]Moment, len(r.Blocks))
	for i, b := range r.Blocks {
		out[i] = Moment{b.T, r.Motion[i]}
	}
	return out
}
