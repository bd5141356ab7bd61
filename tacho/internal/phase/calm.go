package phase

import "math"

// What is not known of a motion has two parts. One is what the noise leaves, as the
// smoother passes some of it on. The other are changes too fast to be heard, which
// the smoother takes out with the noise: the intensity allows a rotor as many of them
// as it shows slower ones. A thing with inertia makes few: its torque does not jump
// about. An intensity chosen by likelihood leaves a motion as smooth as that nearly as
// it is (Wahba 1985, Annals of Statistics 13: 1378, from memory), so that of all that
// the noise remains. It is half of the variance of the rate and a sixth of that of the
// acceleration, as ∫x²/(1+x⁶)² is of ∫x²/(1+x⁶) and ∫x⁴/(1+x⁶)² of ∫x⁴/(1+x⁶), over
// all frequencies x.

// noisier is by what factor noise is raised to see what it contributes.
const noisier = 1.01

// worse returns points of noisier times the variance, and a prior that knows as much
// less.
func worse(p []Point, prior Prior) ([]Point, Prior) {
	q := make([]Point, len(p))
	for i, v := range p {
		v.Var *= noisier
		v.RateVar *= noisier
		q[i] = v
	}
	for k := range prior.SD {
		prior.SD[k] *= math.Sqrt(noisier)
	}
	return q, prior
}

// without returns a variance v, or an element of a covariance, without all but the
// given share of the changes too fast to be heard; with the points worse it is w. As
// no other estimate is better, its variance rises as if it stayed the same one: by
// what noise contributes.
func without(v, w, share float64) float64 {
	return share*v + (1-share)*(w-v)/(noisier-1)
}

// heard returns a covariance without them.
func heard(v, w sym, share float64) sym {
	for i := range 3 {
		for j := range 3 {
			v[i][j] = without(v[i][j], w[i][j], share)
		}
	}
	return v
}

// heardBehind returns, of the information behind a point, the covariance of the pull
// without them. With noise alone it would fall as that rises.
func heardBehind(v, w sym, share float64) sym {
	for i := range 3 {
		for j := range 3 {
			w[i][j] = v[i][j] + noisier*(v[i][j]-w[i][j])
		}
	}
	return heard(v, w, share)
}

// edges returns the covariance before the first point of every run, in order of time,
// and the information behind its last.
func edges(p []Point, prior Prior, runs [][2]int) (first, behind []sym) {
	first, behind = make([]sym, len(runs)), make([]sym, len(runs))
	k := 0
	filter(p[:runs[len(runs)-1][1]], prior, func(i int, before belief) {
		for ; k < len(runs) && runs[k][0] == i; k++ {
			first[k] = before.p
		}
	})
	k = len(runs) - 1
	var v news
	for i := len(p) - 1; k >= 0; i-- {
		for ; k >= 0 && runs[k][1]-1 == i; k-- {
			behind[k] = v.info
		}
		if i > 0 {
			v.hear(p, i, prior)
			v.carryBack(p[i].T-p[i-1].T, prior.q(i))
		}
	}
	return first, behind
}

// tooFast is the share of the changes too fast to be heard that counts: none for
// phases that are wrong by their noise alone, the more the more the lines disagree.
func (r *Result) tooFast() float64 { return 1 - 1/math.Max(1, r.Inflation) }

// Calm finds what is left of the variances of the rate without them: their CalmVar.
func (r *Result) Calm() {
	share := r.tooFast()
	v, w := rateVariances(r.Points, r.prior), rateVariances(worse(r.Points, r.prior))
	for i := range r.Motion {
		m := &r.Motion[i]
		m.CalmVar = m.OmegaVar
		if calm := without(v[i], w[i], share); calm < v[i] {
			m.CalmVar *= calm / v[i]
		}
	}
}

// rateVariances returns the variance of the rate at each of the points, smoothed by
// Run, up to the unit of time.
func rateVariances(p []Point, prior Prior) []float64 {
	p, prior = inUnits(p, prior, timeUnit(p))
	pred, out := make([]sym, len(p)), make([]float64, len(p))
	filter(p, prior, func(i int, before belief) { pred[i] = before.p })
	var v news
	for i := len(p) - 1; i >= 0; i-- {
		v.hear(p, i, prior)
		out[i] = solve(onePlus(mul(pred[i], v.info)), pred[i])[1][1]
		if i > 0 {
			v.carryBack(p[i].T-p[i-1].T, prior.q(i))
		}
	}
	return out
}
