package phase

import (
	"math"
	"slices"
	"sort"
)

// What is kept of a course must not need much memory where a recording is long:
// some hundred bytes for every point of a track. Of the lines their mean strengths
// are kept, and neighbouring blocks are put together until they are thinSeconds
// apart, but for those where the rate is highest, as the peak is read there.
const (
	thinSeconds = 0.02
	// thinLimit is the share of the highest rate from which on blocks stay as they
	// are, unless that are more than topSeconds of the course.
	thinLimit, topSeconds = 0.99, 30.0
)

// Compact keeps of r what a track is made of.
func (r *Result) Compact() {
	r.flutter = nil // the motion has its waves, at moments enough
	if r.summaries == nil {
		r.summarise()
	}
	r.thinOut()
}

// thinOut puts neighbouring blocks together.
func (r *Result) thinOut() {
	n := len(r.Blocks)
	least, top := 0.0, 0.0
	for _, m := range r.Motion {
		least = math.Max(least, thinLimit*m.Omega)
	}
	for i, m := range r.Motion {
		if m.Omega > least {
			top += r.Blocks[i].Length / 2
		}
	}
	if top > topSeconds {
		least = math.Inf(1)
	}
	var ends []int // of the groups
	for i := 0; i < n; {
		j := i + 1
		if i > 0 { // the course keeps its ends
			for j < n-1 && r.Blocks[j].T-r.Blocks[i].T < thinSeconds && r.Motion[i].Omega < least && r.Motion[j].Omega < least {
				j++
			}
		}
		ends = append(ends, j)
		i = j
	}
	k := len(ends)
	blocks, motion, points := make([]Block, k), make([]Smooth, k), make([]Point, k)
	snr, q := make([]float64, k), make([]float64, k)
	i := 0
	for k, end := range ends {
		blocks[k], motion[k], points[k], snr[k], q[k] = r.together(i, end)
		i = end
	}
	r.Blocks, r.Motion, r.Points, r.SNR, r.prior.Q = blocks, motion, points, snr, q
}

// together returns blocks from to end-1 as one, at their mean time: the motion
// there, what all their phases and rates say of it, and the mean of the rest.
func (r *Result) together(from, end int) (b Block, m Smooth, p Point, snr, q float64) {
	if end-from == 1 {
		b = r.Blocks[from]
		b.Y = nil
		return b, r.Motion[from], r.Points[from], r.SNR[from], r.prior.q(from)
	}
	share := 1 / float64(end-from)
	for i := from; i < end; i++ {
		b.T += share * r.Blocks[i].T
		b.Length += share * r.Blocks[i].Length
		b.Sum += share * r.Blocks[i].Sum
		snr += share * r.SNR[i]
		q += share * r.prior.q(i)
	}
	m = r.motionAt(b.T)
	p = Point{T: b.T, Phi: m.Phi, Var: math.Inf(1)}
	var phi, phis, rate, rates float64 // how far off the motion, and the weights
	for i := from; i < end; i++ {
		p.Wave += share * r.Points[i].Wave
		if v := r.Points[i]; !math.IsInf(v.Var, 1) {
			phi += (v.Phi - r.Motion[i].Phi) / v.Var
			phis += 1 / v.Var
		}
		if v := r.Points[i]; v.RateVar > 0 {
			rate += (v.Rate - r.Motion[i].Omega) / v.RateVar
			rates += 1 / v.RateVar
		}
	}
	if phis > 0 {
		p.Phi, p.Var = m.Phi+phi/phis, 1/phis
	}
	if rates > 0 {
		p.Rate, p.RateVar = m.Omega+rate/rates, 1/rates
	}
	b.Phi = m.Phi
	return b, m, p, snr, q
}

// motionAt returns the motion at t, which lies within the course.
func (r *Result) motionAt(t float64) Smooth {
	i := sort.Search(len(r.Blocks), func(i int) bool { return r.Blocks[i].T >= t })
	i = max(1, min(i, len(r.Blocks)-1))
	a, b := r.Motion[i-1], r.Motion[i]
	h := r.Blocks[i].T - r.Blocks[i-1].T
	u := (t - r.Blocks[i-1].T) / h
	return mixed(a, b, h, u)
}

// mixed returns the motion at the share u of the h seconds from a to b.
func mixed(a, b Smooth, h, u float64) Smooth {
	mix := func(x, y float64) float64 { return (1-u)*x + u*y }
	m := Smooth{
		Alpha: mix(a.Alpha, b.Alpha), Wide: mix(a.Wide, b.Wide), Late: mix(a.Late, b.Late), Sway: mix(a.Sway, b.Sway),
		PhiVar: mix(a.PhiVar, b.PhiVar), OmegaVar: mix(a.OmegaVar, b.OmegaVar), AlphaVar: mix(a.AlphaVar, b.AlphaVar),
	}
	m.Phi = cubic(u, a.Phi, b.Phi, h*a.Omega, h*b.Omega)
	m.Omega = cubic(u, a.Omega, b.Omega, h*a.Alpha, h*b.Alpha)
	return m
}

// cubic is the one with values a, b and slopes da, db at 0 and 1.
func cubic(u, a, b, da, db float64) float64 {
	d := b - a
	return a + u*(da+u*(3*d-2*da-db+u*(da+db-2*d)))
}

// Later moves a compact result on by so many seconds.
func (r *Result) Later(seconds float64) {
	for i := range r.Blocks {
		r.Blocks[i].T += seconds
		r.Points[i].T += seconds
	}
	for i := range r.summaries {
		r.summaries[i].from += seconds
	}
}

// Before returns the part of a compact result before time t, nil if there is none
// to speak of.
func (r *Result) Before(t float64) *Result {
	return r.cut(0, sort.Search(len(r.Blocks), func(i int) bool { return r.Blocks[i].T >= t }))
}

// From returns the part of a compact result from time t on, nil if there is none
// to speak of.
func (r *Result) From(t float64) *Result {
	return r.cut(sort.Search(len(r.Blocks), func(i int) bool { return r.Blocks[i].T >= t }), len(r.Blocks))
}

// cut returns blocks from to end-1, nil if they are too few.
func (r *Result) cut(from, end int) *Result {
	if end-from < 5 {
		return nil
	}
	c := *r
	c.Blocks, c.Motion = slices.Clone(r.Blocks[from:end]), slices.Clone(r.Motion[from:end])
	c.Points, c.SNR = slices.Clone(r.Points[from:end]), slices.Clone(r.SNR[from:end])
	c.Lines, c.summaries = slices.Clone(r.Lines), slices.Clone(r.summaries)
	first, last := math.Inf(-1), math.Inf(1)
	if from > 0 {
		first = r.Blocks[from].T
	}
	if end < len(r.Blocks) {
		last = r.Blocks[end-1].T
	}
	c.moments = r.within(first, last)
	c.noise = nil
	for _, lines := range r.noise {
		var part [][]float64
		for _, noise := range lines {
			part = append(part, noise[from:end])
		}
		c.noise = append(c.noise, part)
	}
	c.prior.Q = r.prior.each(len(r.Blocks))[from:end]
	if from > 0 {
		c.prior.Start = Smooth{Phi: r.Motion[from].Phi, Omega: r.Motion[from].Omega}
	}
	c.steadily()
	return &c
}

// Join goes on with the compact result next from time at on, around which both
// must know the motion.
func (r *Result) Join(next *Result, at float64) {
	r.join(next, at)
	r.steadily()
}
