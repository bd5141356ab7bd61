package phase

import (
	"math"
	"slices"
	"sort"
)

// A rotor that is pushed or braked from one moment to the next has a kink there: its
// acceleration jumps. Before and behind a kink the motion is smooth, so that where it
// lies is told far more exactly than from one block to the next: by where the one part
// of the motion meets the other. Blocks smooth over it, by how much is known.

// kink is a moment at which the acceleration jumps, known to a standard deviation of sd
// seconds.
type kink struct{ t, sd, jump float64 }

const (
	// Kinks are looked for with the kinkPoints points before and behind them, or those of
	// kinkSeconds if that is more: as many as lines are looked at together. They share
	// points if they are less than twice that apart, mostKinks of them at most: one takes
	// twice as many unknowns. On either side there are kinkLeast points or more, as phase,
	// rate and slope take three.
	kinkPoints, kinkSeconds, kinkLeast = 8, nearMemory, 3
	mostKinks                          = 4
	// kinkOff is how far, in points, the slope is looked at for where it changes most, and
	// how far apart kinks are: a block overlaps with one on either side.
	kinkOff = 3
	// mostMissed is by how much, as a variance over that of their noise, points may miss a
	// motion with kinks. By noise alone it is one, and where their noise is told too low
	// up to two; a push whose force sets in and ceases softly is missed by more.
	mostMissed = 2.5
	// kinkCost is what a kink costs, in nats: that the intensity rises and falls again.
	kinkCost = 2 * changeCost
)

// kinked finds kinks of a steep motion, which bends beside, if they make the points
// likelier: it then returns the bending with them, and sets the intensities.
func (f *follower) kinked(bend *law, motion []Smooth, lo, hi float64) (*law, error) {
	r, stopped := f.r, f.src.Stopped
	// the given course knows nothing of them
	p := slices.Clone(r.Points)
	for i := range p {
		p[i].RateVar *= givenHold * givenHold
	}
	fits := f.kinkFits(p, f.kinksNear(p, motion))
	best := math.NaN()
	for _, bends := range [...]bool{false, true} {
		l, shift := atKinks(p, motion, fits, bends)
		if l == nil {
			continue
		}
		if math.IsNaN(best) {
			var err error
			if _, best, err = FitVarying(bend.without(p), f.prior, lo, hi, r.Q, stopped); err != nil {
				return nil, err
			}
		}
		bent, own := l.without(moved(p, shift)), f.prior
		q, err := Fit(bent, f.prior, lo, hi, stopped)
		if err != nil {
			return nil, err
		}
		var score float64
		own.Free = l.free(bent)
		if own.Q, score, err = FitVarying(bent, own, lo, hi, q, stopped); err != nil {
			return nil, err
		}
		if score -= kinkCost * float64(len(l.kinks)); score > best {
			bend, best, r.prior, r.Q, f.shift, f.kinks = l, score, own, q, shift, l.kinks
		}
	}
	r.Points = moved(r.Points, f.shift)
	return bend, nil
}

// moved returns the points moved by a shift, if there is any.
func moved(p []Point, shift []float64) []Point {
	if shift == nil {
		return p
	}
	p = slices.Clone(p)
	for i, d := range shift {
		p[i].Phi += d
	}
	return p
}

// kinkFits returns what fits kinks near some points.
func (f *follower) kinkFits(p []Point, near []int) (fits []*kinkFit) {
	for len(near) > 0 {
		n := 1
		for n < len(near) && (near[n]-near[n-1] < 2*kinkPoints || p[near[n]].T-p[near[n-1]].T < 2*kinkSeconds) {
			n++
		}
		if k := f.newKinkFit(p, near[:n]); n <= mostKinks && k != nil {
			fits = append(fits, k)
		}
		near = near[n:]
	}
	return fits
}

// atKinks returns a steep motion with kinks as a law, which bends between them by equal
// ratios or not at all; nil where there are none. shift is by how much the points would lie
// elsewhere, had they been heard along that motion.
func atKinks(p []Point, motion []Smooth, fits []*kinkFit, bends bool) (l *law, shift []float64) {
	l = &law{}
	if bends {
		l = ratios(p, motion)
	}
	shift = make([]float64, len(p))
	for _, k := range fits {
		if k.find(bends) {
			l.take(k)
			k.shift(shift[k.first:])
		}
	}
	if len(l.kinks) == 0 {
		return nil, nil
	}
	return l, shift
}

// kinksNear returns the points near which kinks were found before, or else near which a
// steep motion begins or ends.
func (f *follower) kinksNear(p []Point, motion []Smooth) (near []int) {
	n := len(p)
	for _, k := range f.kinks {
		near = append(near, sort.Search(n-1, func(i int) bool { return (p[i].T+p[i+1].T)/2 > k.t }))
	}
	if near != nil {
		return near
	}
	steep := func(i int) bool { return i >= 0 && i < n && motion[i].steep() }
	for i := 1; i < n; i++ {
		if steep(i) == steep(i-1) {
			continue
		}
		most, at := -1.0, i
		for j := max(1, i-kinkOff); j <= min(n-2, i+kinkOff); j++ {
			if d := math.Abs(motion[j+1].Alpha - motion[j-1].Alpha); d > most {
				most, at = d, j
			}
		}
		if k := len(near); k > 0 && at-near[k-1] < kinkOff {
			continue // the same
		}
		near = append(near, at)
	}
	return near
}

// take makes the kinks found, and how the motion bends around them, those of the law.
func (l *law) take(k *kinkFit) {
	own := k.law()
	l.kinks = append(l.kinks, own.kinks...)
	if k.bends {
		i, _ := slices.BinarySearch(l.t, k.p[0].T)
		j, _ := slices.BinarySearch(l.t, k.p[len(k.p)-1].T+1e-9)
		l.t = slices.Concat(l.t[:i:i], own.t, l.t[j:])
		l.jerk = slices.Concat(l.jerk[:i:i], own.jerk, l.jerk[j:])
	}
}

// around returns from when to when a kink may lie, if it lies anywhere between: in three
// times its standard deviation. The points, which tell that, are heard once more then,
// and of what is known in the end no more than a tenth may be from here. It takes 10 µs
// at least, so that there is a step between.
func (k kink) around() (from, to float64) {
	w := math.Max(3*math.Sqrt(3)*k.sd, 1e-5)
	return k.t - w, k.t + w
}

// amid returns the points with the moments around the kinks among them, and where those
// that were at are then.
func (l *law) amid(all []Point, at []int) ([]Point, []int) {
	if l == nil {
		return all, at
	}
	for _, k := range l.kinks {
		from, to := k.around()
		for _, t := range [...]float64{from, to} {
			i := sort.Search(len(all), func(i int) bool { return all[i].T >= t })
			if i == 0 || i == len(all) || all[i].T-t < 1e-7 || t-all[i-1].T < 1e-7 {
				continue
			}
			all = slices.Insert(all, i, Point{T: t, Var: math.Inf(1)})
			for j := range at {
				if at[j] >= i {
					at[j]++
				}
			}
		}
	}
	return all, at
}

// free returns the intensity of the step to each point that lets the acceleration be
// anything behind a kink, nil if there is none.
func (l *law) free(p []Point) []float64 {
	if l == nil || len(l.kinks) == 0 {
		return nil
	}
	q := make([]float64, len(p))
	for _, k := range l.kinks {
		from, to := k.around()
		for i := 1; i < len(p); i++ {
			if within := math.Min(to, p[i].T) - math.Max(from, p[i-1].T); within > 0 {
				q[i] += k.jump * k.jump * within / (to - from) / (p[i].T - p[i-1].T)
			}
		}
	}
	return q
}
