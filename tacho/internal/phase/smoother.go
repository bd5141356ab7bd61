// Package phase follows the phase of a comb of lines: it demodulates every
// line along an approximate course, combines them into one phase, and smooths
// that with the inertia that the sound itself shows.
package phase

import "math"

// Point is one measurement of the common phase.
type Point struct {
	T   float64 // seconds
	Phi float64 // radians
	Var float64 // variance in rad^2; +Inf for nothing measured
	// Rate is a measurement of the angular rate in rad/s, RateVar its variance;
	// 0 for none.
	Rate, RateVar float64
	// Wave is what of Phi is the waves' of a flutter: the motion has it beside its inertia.
	Wave float64
}

// Smooth is the smoothed motion at one moment: phase, angular rate and its
// change, with the variances of the first two.
type Smooth struct {
	Phi, Omega, Alpha          float64
	PhiVar, OmegaVar, AlphaVar float64
	// CalmVar is the variance of the rate without changes too fast to be heard, where
	// it was asked for.
	CalmVar float64
	// Wide is the factor by which the variances were widened afterwards, if any.
	Wide float64
	// Late is the standard uncertainty, in seconds, of how late a hall makes the motion:
	// beside the variances, which do not include it.
	Late float64
	// Sway is by what share of them the variances are larger for what a room does to a lone
	// line, as far as its level tells: they do not include it (Result.Swayed).
	Sway float64
}

// belief is a state, relative to the guess, and its covariance.
type belief struct {
	x vec
	p sym
}

// step returns the transition over dt and the noise of a change of
// acceleration with intensity q.
func step(dt, q float64) (f, n sym) {
	d2, d3 := dt*dt, dt*dt*dt
	f = sym{{1, dt, d2 / 2}, {0, 1, dt}, {0, 0, 1}}
	n = sym{
		{q * d2 * d3 / 20, q * d2 * d2 / 8, q * d3 / 6},
		{q * d2 * d2 / 8, q * d3 / 3, q * d2 / 2},
		{q * d3 / 6, q * d2 / 2, q * dt},
	}
	return f, n
}

// Prior is what is known of a motion before its phases are seen: a guess of the
// motion at the first point, with standard deviations, and the intensity of
// changes of acceleration (rad^2/s^5), one value for the step to each point or
// a single one for all.
type Prior struct {
	Start Smooth
	SD    [3]float64
	Q     []float64
	// Free, if not nil, is what FitVarying adds to the intensity of the step to each
	// point: there the acceleration is known to jump.
	Free []float64
}

// q returns the intensity for the step to point i.
func (r Prior) q(i int) float64 {
	if len(r.Q) == 1 {
		return r.Q[0]
	}
	return r.Q[i]
}

// ref is the motion of the guess, relative to which the numbers stay small.
func (r Prior) ref(p []Point, t float64) float64 {
	dt := t - p[0].T
	return r.Start.Phi + r.Start.Omega*dt + r.Start.Alpha*dt*dt/2
}

// belief is what is known at the first point, relative to the guess.
func (r Prior) belief() belief {
	sd := r.SD
	return belief{p: sym{{sd[0] * sd[0], 0, 0}, {0, sd[1] * sd[1], 0}, {0, 0, sd[2] * sd[2]}}}
}

// refRate is the rate of the guess at t.
func (r Prior) refRate(p []Point, t float64) float64 {
	return r.Start.Omega + r.Start.Alpha*(t-p[0].T)
}

// filter takes the points in, in order of time, without a look back. see is shown
// what was believed before each.
func filter(p []Point, prior Prior, see func(i int, before belief)) {
	cur := prior.belief()
	for i := range p {
		if i > 0 {
			cur.carry(p[i].T-p[i-1].T, prior.q(i))
		}
		see(i, cur)
		cur.see(p, i, prior)
	}
}

// see takes in the point i.
func (b *belief) see(p []Point, i int, prior Prior) {
	q := &p[i]
	if !math.IsInf(q.Var, 1) {
		s := b.p[0][0] + q.Var
		e := q.Phi - prior.ref(p, q.T) - b.x[0]
		b.update(b.p[0], e, s)
	}
	if q.RateVar > 0 {
		s := b.p[1][1] + q.RateVar
		e := q.Rate - prior.refRate(p, q.T) - b.x[1]
		b.update(b.p[1], e, s)
	}
}

// hear adds to the information and the pull what point i says.
func (v *news) hear(p []Point, i int, prior Prior) {
	if !math.IsInf(p[i].Var, 1) {
		v.info[0][0] += 1 / p[i].Var
		v.pull[0] += (p[i].Phi - prior.ref(p, p[i].T)) / p[i].Var
	}
	if p[i].RateVar > 0 {
		v.info[1][1] += 1 / p[i].RateVar
		v.pull[1] += (p[i].Rate - prior.refRate(p, p[i].T)) / p[i].RateVar
	}
}

// news is what some points say of a motion: the information (the inverse of a
// covariance) and the information times where they say it is.
type news struct {
	info sym
	pull vec
}

// carryBack moves news back by dt, over which the acceleration changes with
// intensity q.
func (v *news) carryBack(dt, q float64) {
	f, noise := step(dt, q)
	blurred := solve(onePlus(mul(v.info, noise)), one)
	ft := transpose(f)
	v.pull = apply(ft, apply(blurred, v.pull))
	v.info = symmetric(mul(mul(ft, mul(blurred, v.info)), f))
}

// update takes in one measurement of the phase or the rate, which differs by e,
// of variance s, from what was believed; row is the covariance with it.
func (b *belief) update(row [3]float64, e, s float64) {
	g0, g1, g2 := row[0]/s, row[1]/s, row[2]/s
	b.x[0] += g0 * e
	b.x[1] += g1 * e
	b.x[2] += g2 * e
	p01, p02, p12 := b.p[0][1]-g0*row[1], b.p[0][2]-g0*row[2], b.p[1][2]-g1*row[2]
	b.p = sym{
		{b.p[0][0] - g0*row[0], p01, p02},
		{p01, b.p[1][1] - g1*row[1], p12},
		{p02, p12, b.p[2][2] - g2*row[2]},
	}
}

// carry moves a belief on by dt, over which the acceleration changes with
// intensity q: what step says, written out.
func (b *belief) carry(dt, q float64) {
	h := dt * dt / 2
	b.x[0] += dt*b.x[1] + h*b.x[2]
	b.x[1] += dt * b.x[2]
	// rows of the transition times the covariance
	p00, p01, p02 := b.p[0][0], b.p[0][1], b.p[0][2]
	p11, p12, p22 := b.p[1][1], b.p[1][2], b.p[2][2]
	a00, a01, a02 := p00+dt*p01+h*p02, p01+dt*p11+h*p12, p02+dt*p12+h*p22
	b11, b12 := p11+dt*p12, p12+dt*p22
	d2, d3 := dt*dt, dt*dt*dt
	p00 = a00 + dt*a01 + h*a02 + q*d2*d3/20
	p01 = a01 + dt*a02 + q*d2*d2/8
	p02 = a02 + q*d3/6
	p11 = b11 + dt*b12 + q*d3/3
	p12 = b12 + q*d2/2
	p22 += q * dt
	b.p = sym{{p00, p01, p02}, {p01, p11, p12}, {p02, p12, p22}}
}

// motion turns what is believed of the motion at point i, relative to the guess,
// into the motion there.
func (r Prior) motion(p []Point, i int, b belief) Smooth {
	dt := p[i].T - p[0].T
	return Smooth{
		Phi:    b.x[0] + r.ref(p, p[i].T),
		Omega:  b.x[1] + r.Start.Omega + r.Start.Alpha*dt,
		Alpha:  b.x[2] + r.Start.Alpha,
		PhiVar: math.Max(0, b.p[0][0]), OmegaVar: math.Max(0, b.p[1][1]), AlphaVar: math.Max(0, b.p[2][2]),
	}
}

// Run smooths the points, in order of time. It returns the motion at each point
// and the logarithm of the likelihood of the points, up to a constant that does
// not depend on the prior's intensity.
//
// It goes forward with a covariance and backward with information, the inverse
// of one, which is nothing at the end (the two filters of Fraser and Potter 1969):
// so neither the vague start nor the open end leave differences of nearly equal
// numbers. It does so in units of time in which a step is about one, so that
// phase, rate and acceleration are of like size.
func Run(p []Point, prior Prior) (motion []Smooth, like float64) {
	n := len(p)
	if n == 0 {
		return nil, 0
	}
	unit := timeUnit(p)
	p, prior = inUnits(p, prior, unit)
	pred := make([]belief, n)
	filter(p, prior, func(i int, before belief) { pred[i] = before })
	all := prior.belief()
	like = all.takeIn(looks(p, prior), prior.Q)
	motion = make([]Smooth, n)
	var v news // what point i and those behind it say of the motion there
	for i := n - 1; ; i-- {
		v.hear(p, i, prior)
		info, pull := v.info, v.pull
		b := pred[i]
		// the surprise: how far it is from what those before say, in terms of info
		e := apply(info, b.x)
		for a := range 3 {
			e[a] = pull[a] - e[a]
		}
		sm := belief{b.x, symmetric(solve(onePlus(mul(b.p, info)), b.p))}
		for a, v := range apply(sm.p, e) {
			sm.x[a] += v
		}
		motion[i] = inSeconds(prior.motion(p, i, sm), unit)
		if i == 0 {
			break
		}
		v.carryBack(p[i].T-p[i-1].T, prior.q(i))
	}
	return motion, like
}

// timeUnit returns the mean step between points, in seconds.
func timeUnit(p []Point) float64 {
	if n := len(p); n > 1 && p[n-1].T > p[0].T {
		return (p[n-1].T - p[0].T) / float64(n-1)
	}
	return 1
}

// inUnits returns points and prior with time in the given unit, in seconds.
func inUnits(p []Point, prior Prior, unit float64) ([]Point, Prior) {
	q := make([]Point, len(p))
	for i, v := range p {
		v.T = (v.T - p[0].T) / unit
		v.Rate *= unit
		v.RateVar *= unit * unit
		q[i] = v
	}
	prior.Start.Omega *= unit
	prior.Start.Alpha *= unit * unit
	prior.SD[1] *= unit
	prior.SD[2] *= unit * unit
	scaled := make([]float64, len(prior.Q))
	for i, v := range prior.Q {
		scaled[i] = v * math.Pow(unit, 5)
	}
	prior.Q = scaled
	return q, prior
}

// inSeconds turns a motion in the given unit of time into one in seconds.
func inSeconds(s Smooth, unit float64) Smooth {
	u2 := unit * unit
	s.Omega /= unit
	s.Alpha /= u2
	s.OmegaVar /= u2
	s.AlphaVar /= u2 * u2
	return s
}
