package phase

import (
	"math"
	"slices"
)

// Fit finds the one intensity of changes of acceleration, between qLo and qHi,
// that makes the points likeliest: of values a factor of a hundred apart, then ten,
// then three. It gives up with the error of stopped, which it asks before each look.
func Fit(p []Point, prior Prior, qLo, qHi float64, stopped func() error) (q float64, err error) {
	q, top := qLo, math.Inf(-1)
	list := looks(p, prior)
	from := prior.belief()
	var at four
	try := func(values ...float64) error {
		for i := 0; i < len(values); i += 4 {
			if err := stopped(); err != nil {
				return err
			}
			var some [4]float64
			for k := range some {
				some[k] = values[min(i+k, len(values)-1)]
			}
			at.takeIn(&from, list, some[:])
			for k, like := range at.like {
				if like > top {
					q, top = some[k], like
				}
			}
		}
		return nil
	}
	within := func(v float64) bool { return v > qLo*0.999 && v < qHi*1.001 } // rounding decides nothing
	var coarse []float64
	for v := qLo; within(v); v *= 100 {
		coarse = append(coarse, v)
	}
	if err := try(coarse...); err != nil {
		return q, err
	}
	for _, r := range []float64{10, 3.162} {
		var finer []float64
		for _, v := range []float64{q / r, q * r} {
			if within(v) {
				finer = append(finer, v)
			}
		}
		if err := try(finer...); err != nil {
			return q, err
		}
	}
	return q, nil
}

// FitVarying lets the intensity change along the course, as a push begins or
// ends: it returns one for the step to each point. Between pushes it may lie far
// below qLo, as a rotor may coast for seconds along one curve.
//
// It takes the levels that, with the cost of every change of level, make the
// points likeliest. It begins with q for all, and looks at pieces that get shorter
// and shorter; at each it knows what the points before and behind the piece say
// of the motion, so that the likelihood of the whole costs no more than the piece
// itself. score is that likelihood, less what the levels cost.
func FitVarying(p []Point, prior Prior, qLo, qHi, q float64, stopped func() error) (each []float64, score float64, err error) {
	if len(p) <= 8 {
		prior.Q = []float64{q}
		return prior.Q, likeOf(p, prior), nil
	}
	lowest := qLo * math.Pow(tenfold, -deep)
	count := deep + 1 + int(math.Round(math.Log10(qHi/qLo)))
	l := newLevels(p, prior, lowest, count, deep+int(math.Round(math.Log10(q/qLo))))
	for piece := math.Min(longestPiece, p[len(p)-1].T-p[0].T); ; piece /= 2 {
		if err := stopped(); err != nil {
			return nil, 0, err
		}
		every := 0
		if piece > longestPiece/2 {
			every = 1
		}
		l.sweep(l.within(piece), every, 0)
		// what a piece cannot do on its own, for the cost of being unlike its
		// neighbours, all pieces of a kind can
		l.sweep(l.alike, 3, calm)
		if piece < 2*shortestPiece {
			break
		}
	}
	l.sharpen()
	score = l.score()
	out := l.spread()
	l.shareChanges(out)
	for i := range out {
		out[i] += l.free[i]
		out[i] /= math.Pow(l.unit, 5)
	}
	return out, score, nil
}

// Intensities that vary are steps of a factor of ten, the lowest of which lies
// deep of them below the range of one for the whole course.
const (
	tenfold = 10
	deep    = 8
)

// A change of the intensity from one piece of a course to the next must be worth
// this much likelihood (nats): pushes and brakes are few.
const changeCost = 3.0

// calm is how much likelier (nats) a tenth of an intensity is beforehand.
const calm = 0.15

// Pieces of a course over which one intensity holds, in seconds, from the
// longest that are looked at to the shortest: a push begins and ends from one
// block to the next.
const longestPiece, shortestPiece = 2.0, 0.004

// levels are the intensities along a course in the making.
type levels struct {
	p     []Point
	looks []look
	prior Prior // Start and SD count
	unit  float64
	// scratch: the intensities of a piece, the levels to be tried and what they give
	own   []float64
	tried []int
	at    four
	q     []float64
	of    []int     // level of the step to each point
	free  []float64 // what is added to its intensity
	// intensities of steps of a burst that may lie elsewhere in its run, 0 for none
	shared []float64
	later  []news // what the points behind each one say
	stale  int    // the last step that has changed since that was found, -1 for none
}

func newLevels(p []Point, prior Prior, lowest float64, count, start int) *levels {
	unit := timeUnit(p)
	l := &levels{unit: unit, of: make([]int, len(p)), shared: make([]float64, len(p)), later: make([]news, len(p))}
	l.p, l.prior = inUnits(p, prior, unit)
	l.looks = looks(l.p, l.prior)
	l.stale = len(p) - 1
	for k := range count {
		l.q = append(l.q, lowest*math.Pow(tenfold, float64(k))*math.Pow(unit, 5))
	}
	for i := range l.of {
		l.of[i] = start
	}
	l.free = make([]float64, len(p))
	for i, v := range prior.Free {
		l.free[i] = v * math.Pow(unit, 5)
	}
	return l
}

// intensity returns that of step i with a level.
func (l *levels) intensity(i, level int) float64 { return l.q[level] + l.free[i] }

// within returns a function that returns the end of a piece of so many seconds.
func (l *levels) within(seconds float64) func(from int) (end int) {
	return func(from int) int {
		end := from + 1
		for end < len(l.p) && l.p[end].T-l.p[from-1].T <= seconds/l.unit {
			end++
		}
		return end
	}
}

// listen fills l.later[i] with what the points behind point i say of the motion
// there.
func (l *levels) listen() {
	if l.stale < 0 {
		return
	}
	v := l.later[l.stale] // nothing at the end
	for i := l.stale; ; i-- {
		l.later[i] = v
		if i == 0 {
			l.stale = -1
			return
		}
		v.hear(l.p, i, l.prior)
		v.carryBack(l.p[i].T-l.p[i-1].T, l.intensity(i, l.of[i]))
	}
}

// forward takes in points from to end-1 with the levels that they have, and adds
// their likelihood.
func (l *levels) forward(b belief, from, end int) (belief, float64) {
	l.own = l.own[:0]
	for i := from; i < end; i++ {
		l.own = append(l.own, l.intensity(i, l.of[i]))
	}
	like := b.takeIn(l.looks[from:end], l.own)
	return b, like
}

// walk is what is known of the motion on a way along the course, with the levels that
// its steps have.
type walk struct {
	l    *levels
	at   belief
	next int // the first step that was not taken yet
}

// walk begins at the first point, with the news of those behind at hand.
func (l *levels) walk() *walk {
	l.listen()
	w := &walk{l, l.prior.belief(), 1}
	w.at.see(l.p, 0, l.prior)
	return w
}

// before goes on and returns the belief at the point before step from.
func (w *walk) before(from int) belief {
	w.at, _ = w.l.forward(w.at, w.next, from)
	w.next = from
	return w.at
}

// agreement returns the likelihood of the later news given the belief, relative
// to that of the point origin.
func agreement(b belief, v news, origin vec) float64 {
	var d vec
	for a := range 3 {
		d[a] = b.x[a] - origin[a]
	}
	e0 := apply(v.info, origin)
	for a := range 3 {
		e0[a] = v.pull[a] - e0[a]
	}
	id := apply(v.info, d)
	e := e0
	for a := range 3 {
		e[a] -= id[a]
	}
	// the covariance of both applied to e
	w, det := solveOne(onePlus(mul(b.p, v.info)), apply(b.p, e))
	sum := -0.5 * math.Log(math.Max(det, 1e-300))
	for a := range 3 {
		sum += 0.5*e[a]*w[a] + e0[a]*d[a] - 0.5*id[a]*d[a]
	}
	return sum
}

// alike returns the end of the steps that have the level of the step from.
func (l *levels) alike(from int) int {
	end := from + 1
	for end < len(l.of) && l.of[end] == l.of[from] {
		end++
	}
	return end
}

// asIs stands for the levels that the steps of a piece have, in place of one.
const asIs = -1

// cost is what the steps from to end-1 cost with one level, beside their likelihood.
func (l *levels) cost(from, end, level int, calm float64) float64 {
	changes := 0
	count := func(a, b int) {
		if a != b {
			changes++
		}
	}
	first, last := level, level
	if level == asIs {
		first, last = l.of[from], l.of[end-1]
		for i := from + 1; i < end; i++ {
			count(l.of[i], l.of[i-1])
		}
	}
	if from > 1 {
		count(l.of[from-1], first)
	}
	if end < len(l.of) {
		count(last, l.of[end])
	}
	return calm*float64(first) + changeCost*float64(changes)
}

// four takes in points from to end-1 with up to four levels at once.
func (l *levels) four(b belief, from, end int, tried []int) {
	l.own = l.own[:0]
	steps := 1
	if slices.Contains(tried, asIs) || slices.Max(l.free[from:end]) > 0 {
		steps = end - from
	}
	for i := range steps {
		for k := range 4 {
			level := tried[min(k, len(tried)-1)]
			if level == asIs {
				level = l.of[from+i]
			}
			l.own = append(l.own, l.intensity(from+i, level))
		}
	}
	l.at.takeIn(&b, l.looks[from:end], l.own)
}

// sweep goes once along the course and chooses the best level for every piece,
// from those near the present one, its neighbours', and every so many of all (0
// for none).
func (l *levels) sweep(pieceEnd func(from int) int, every int, calm float64) {
	l.listen()
	n := len(l.p)
	cur := l.prior.belief()
	cur.see(l.p, 0, l.prior)
	for from := 1; from < n; {
		end := pieceEnd(from)
		near := l.of[(from+end-1)/2]
		l.tried = append(l.tried[:0], asIs)
		for k := range l.q {
			if every > 0 && k%every == 0 || k >= near-2 && k <= near+2 || from > 1 && k == l.of[from-1] || end < n && k == l.of[end] {
				l.tried = append(l.tried, k)
			}
		}
		var origin vec
		var kept belief
		best, at := 0.0, asIs
		for i, k := range l.tried {
			if i%4 == 0 {
				l.four(cur, from, end, l.tried[i:min(i+4, len(l.tried))])
			}
			b := l.at.to[i%4]
			if i == 0 {
				origin = b.x
			}
			like := l.at.like[i%4] + agreement(b, l.later[end-1], origin) - l.cost(from, end, k, calm)
			if i == 0 || like > best+1e-9 {
				best, at, kept = like, k, b
			}
		}
		if at != asIs {
			for i := from; i < end; i++ {
				l.of[i] = at
			}
			l.stale = end - 1
		}
		cur = kept
		from = end
	}
	l.of[0] = l.of[1]
}

// score returns the likelihood of the points with the levels found, less what these
// cost.
func (l *levels) score() float64 {
	start := l.prior.belief()
	start.see(l.p, 0, l.prior)
	_, like := l.forward(start, 1, len(l.p))
	for from := 1; from < len(l.of); {
		end := l.alike(from)
		like -= calm*float64(l.of[from]) + changeCost
		from = end
	}
	return like
}
