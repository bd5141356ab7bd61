package phase

import (
	"iter"
	"math"
	"math/rand/v2"
)

// Draws yields count courses of motion at points from to end-1 that are as likely
// as the smoothed one given all the points: samples of its posterior. The spread
// of any property of the motion (its highest rate, say) over the draws is the
// uncertainty of that property. Each course is valid until the next.
//
// A motion is drawn from what is known before, measured as the points were, and
// smoothed as they were; by what the smoothed one misses it, the true motion may
// miss ours (the simulation smoother of Durbin and Koopman 2002). Nothing is
// inverted, so it holds for motions as stiff as one likes.
func Draws(p []Point, prior Prior, from, end, count int, src *rand.Rand) iter.Seq[[]Smooth] {
	motion, _ := Run(p, prior)
	return draws(p, prior, motion, [][2]int{{from, end}}, 1, count, src)[0]
}

// A course of more than drawnWhole blocks is drawn in parts of drawnAtOnce at most,
// which know the points of as many as drawnAround before and behind them: what lies
// further off does not matter to them.
const drawnWhole, drawnAtOnce, drawnAround = 20000, 4000, 500

// Parts splits runs that are too long to be drawn at once; neighbours share a block.
func (r *Result) Parts(runs [][2]int) (parts [][2]int) {
	if len(r.Points) <= drawnWhole {
		return runs
	}
	for _, run := range runs {
		for run[1]-run[0] > drawnAtOnce {
			parts = append(parts, [2]int{run[0], run[0] + drawnAtOnce})
			run[0] += drawnAtOnce - 1
		}
		parts = append(parts, run)
	}
	return parts
}

// Sample is Draws for the Parts of runs of blocks, each from and to one, of the
// motion found. Of the changes too fast to be heard the motions have the share that
// Calm counts.
func (r *Result) Sample(runs [][2]int, count int, src *rand.Rand) []iter.Seq[[]Smooth] {
	if len(r.Points) <= drawnWhole {
		return draws(r.Points, r.prior, r.Motion, runs, r.tooFast(), count, src)
	}
	var out []iter.Seq[[]Smooth]
	for _, run := range runs {
		out = append(out, func(yield func([]Smooth) bool) {
			from, end := max(0, run[0]-drawnAround), min(len(r.Points), run[1]+drawnAround)
			prior := r.prior
			prior.Start = Smooth{Phi: r.Motion[from].Phi, Omega: r.Motion[from].Omega}
			prior.Q = prior.each(end)[from:]
			own := [][2]int{{run[0] - from, run[1] - from}}
			for d := range draws(r.Points[from:end], prior, r.Motion[from:end], own, r.tooFast(), count, src)[0] {
				if !yield(d) {
					return
				}
			}
		})
	}
	return out
}

// draws is Draws for runs in order of time, of the smoothed motion, with the share
// tooFast of the changes too fast to be heard.
func draws(p []Point, prior Prior, motion []Smooth, runs [][2]int, tooFast float64, count int, src *rand.Rand) []iter.Seq[[]Smooth] {
	unit := timeUnit(p)
	p, prior = inUnits(p, prior, unit)
	var out []iter.Seq[[]Smooth]
	for k, s := range newSimulators(p, prior, runs, tooFast) {
		smooth := motion[runs[k][0]:runs[k][1]]
		out = append(out, func(yield func([]Smooth) bool) {
			draw := make([]Smooth, len(smooth))
			for range count {
				for i, e := range s.miss(src) {
					m := &smooth[i]
					g := math.Sqrt(math.Max(1, m.Wide))
					draw[i] = Smooth{Phi: m.Phi + g*e[0], Omega: m.Omega + g*e[1]/unit, Alpha: m.Alpha + g*e[2]/(unit*unit)}
				}
				if !yield(draw) {
					return
				}
			}
		})
	}
	return out
}

// simulator draws what a smoothed motion misses.
type simulator struct {
	start sym    // root of the covariance before the first point
	final sym    // root of that of the pull from behind the last point
	last  sym    // the information from there
	at    []site // the points
	// scratch
	truth, pred, err []vec
	seen             [][2]float64
}

// site is what the simulator needs at a point.
type site struct {
	// of the phase and of the rate: the standard deviation, 0 for nothing measured,
	// one over its square, and the gain of the filter
	sd, weight [2]float64
	gain       [2]vec
	info, both sym // of the point and those behind; the smoothed covariance
	// over the step from the point before: its length, the root of its changes, and
	// how pull comes back
	dt          float64
	noise, back sym
}

// newSimulators returns those of runs in order of time.
func newSimulators(p []Point, prior Prior, runs [][2]int, tooFast float64) []*simulator {
	q, vaguer := worse(p, prior)
	first, behind := edges(q, vaguer, runs)
	var all []*simulator
	for _, r := range runs {
		n := r[1] - r[0]
		all = append(all, &simulator{at: make([]site, n), truth: make([]vec, n), pred: make([]vec, n), err: make([]vec, n), seen: make([][2]float64, n)})
	}
	run := 0
	filter(p[:runs[len(runs)-1][1]], prior, func(i int, before belief) {
		for i >= runs[run][1] {
			run++
		}
		s, from := all[run], runs[run][0]
		if i < from {
			return
		}
		if i == from {
			s.start = cholesky(heard(before.p, first[run], tooFast))
		}
		t := &s.at[i-from]
		t.both = before.p // for now
		variance := [2]float64{p[i].Var, math.Inf(1)}
		if p[i].RateVar > 0 {
			variance[1] = p[i].RateVar
		}
		for k, v := range variance {
			if !math.IsInf(v, 1) {
				t.sd[k], t.weight[k] = math.Sqrt(v), 1/v
				s := before.p[k][k] + v
				for a := range 3 {
					t.gain[k][a] = before.p[a][k] / s
				}
				before.update(before.p[k], 0, s)
			}
		}
	})
	run = len(runs) - 1
	var v news
	for i := len(p) - 1; run >= 0; i-- {
		s, from, end := all[run], runs[run][0], runs[run][1]
		if i == end-1 {
			s.last, s.final = v.info, cholesky(heardBehind(v.info, behind[run], tooFast))
		}
		v.hear(p, i, prior)
		if i == 0 {
			s.at[0].seen(v.info)
			break
		}
		f, noise := step(p[i].T-p[i-1].T, prior.q(i))
		back := mul(transpose(f), solve(onePlus(mul(v.info, noise)), one))
		if i < end {
			t := &s.at[i-from]
			t.seen(v.info)
			_, changes := step(p[i].T-p[i-1].T, prior.q(i)*tooFast)
			t.dt, t.noise, t.back = p[i].T-p[i-1].T, cholesky(changes), back
			if i == from {
				run--
			}
		}
		v.info = symmetric(mul(mul(back, v.info), f))
	}
	return all
}

// seen sets the information and, from the covariance before, the smoothed one.
func (t *site) seen(info sym) {
	t.info = info
	t.both = symmetric(solve(onePlus(mul(t.both, info)), t.both))
}

// carried is a motion dt later.
func carried(x vec, dt float64) vec {
	return vec{x[0] + dt*x[1] + dt*dt/2*x[2], x[1] + dt*x[2], x[2]}
}

// lower returns a lower triangle times a vector.
func lower(a *sym, x vec) vec {
	return vec{a[0][0] * x[0], a[1][0]*x[0] + a[1][1]*x[1], a[2][0]*x[0] + a[2][1]*x[1] + a[2][2]*x[2]}
}

// miss returns how much the smoothed motion misses a drawn one at every point.
func (s *simulator) miss(src *rand.Rand) []vec {
	random := func() vec { return vec{src.NormFloat64(), src.NormFloat64(), src.NormFloat64()} }
	seen := s.seen
	var post, truth vec
	for i := range s.at {
		t := &s.at[i]
		if i == 0 {
			truth = lower(&s.start, random())
			post = vec{}
		} else {
			truth = plus(carried(truth, t.dt), lower(&t.noise, random()))
			post = carried(post, t.dt)
		}
		s.truth[i], s.pred[i] = truth, post
		for k := range t.sd {
			if t.sd[k] == 0 {
				continue // nothing measured
			}
			v := truth[k] + t.sd[k]*src.NormFloat64()
			seen[i][k] = v * t.weight[k]
			e, g := v-post[k], &t.gain[k]
			post = vec{post[0] + g[0]*e, post[1] + g[1]*e, post[2] + g[2]*e}
		}
	}
	n := len(s.at) - 1
	pull := plus(apply(s.last, s.truth[n]), lower(&s.final, random()))
	for i := n; i >= 0; i-- {
		t := &s.at[i]
		pull[0] += seen[i][0] // nothing seen is nothing here
		pull[1] += seen[i][1]
		pred := s.pred[i]
		e := apply(t.info, pred)
		e = apply(t.both, vec{pull[0] - e[0], pull[1] - e[1], pull[2] - e[2]})
		truth := &s.truth[i]
		s.err[i] = vec{truth[0] - pred[0] - e[0], truth[1] - pred[1] - e[1], truth[2] - pred[2] - e[2]}
		pull = apply(t.back, pull)
	}
	return s.err
}

func plus(a, b vec) vec { return vec{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }

func add(a, b sym) sym {
	for i := range 3 {
		for j := range 3 {
			a[i][j] += b[i][j]
		}
	}
	return a
}

// cholesky returns a lower root of a, with what rounding made negative as zero.
func cholesky(a sym) (l sym) {
	for i := range 3 {
		for j := 0; j <= i; j++ {
			s := a[i][j]
			for k := 0; k < j; k++ {
				s -= l[i][k] * l[j][k]
			}
			if i == j {
				l[i][i] = math.Sqrt(math.Max(0, s))
			} else if l[j][j] > 0 {
				l[i][j] = s / l[j][j]
			}
		}
	}
	return l
}
