package phase

import "math"

// look is a point as the filter takes it in: the time since the one before, what an
// intensity of one adds to the covariance in that time, and the phase and the rate
// measured, relative to the guess, with their variances, +Inf for what was not
// measured. looks_amd64.s knows the order.
type look struct {
	dt, half                float64 // half of dt squared
	n00, n01, n02, n11, n12 float64 // n22 is dt
	phi, phiVar             float64
	rate, rateVar           float64
}

// looks returns the points, in order of time, as the filter takes them in.
func looks(p []Point, prior Prior) []look {
	out := make([]look, len(p))
	for i, q := range p {
		l := look{phi: q.Phi - prior.ref(p, q.T), phiVar: q.Var, rateVar: math.Inf(1)}
		if i > 0 {
			dt := q.T - p[i-1].T
			h := dt * dt / 2
			l.dt, l.half = dt, h
			l.n00, l.n01, l.n02, l.n11, l.n12 = dt*h*h/5, dt*dt*h/4, dt*h/3, dt*h*(2.0/3), dt*dt/2
		}
		if q.RateVar > 0 {
			l.rate, l.rateVar = q.Rate-prior.refRate(p, q.T), q.RateVar
		}
		out[i] = l
	}
	return out
}

// takeIn carries a belief from look to look and takes them in: what carry and see
// do, written out, as the likelihoods of many intensities are compared. q is the
// intensity for the step to each look, or a single one for all.
func (b *belief) takeIn(list []look, q []float64) (like float64) {
	x0, x1, x2 := b.x[0], b.x[1], b.x[2]
	p00, p01, p02, p11, p12, p22 := b.p[0][0], b.p[0][1], b.p[0][2], b.p[1][1], b.p[1][2], b.p[2][2]
	squares, logs, product := 0.0, 0.0, 1.0
	none, k := math.Inf(1), 0.0
	if len(q) > 0 {
		k = q[0]
	}
	for i := range list {
		l := &list[i]
		if len(q) > 1 {
			k = q[i]
		}
		dt, h := l.dt, l.half
		x0 += dt*x1 + h*x2
		x1 += dt * x2
		a00, a01, a02 := p00+dt*p01+h*p02, p01+dt*p11+h*p12, p02+dt*p12+h*p22
		b11, b12 := p11+dt*p12, p12+dt*p22
		p00 = a00 + dt*a01 + h*a02 + k*l.n00
		p01 = a01 + dt*a02 + k*l.n01
		p02 = a02 + k*l.n02
		p11 = b11 + dt*b12 + k*l.n11
		p12 = b12 + k*l.n12
		p22 += k * dt
		if l.phiVar < none {
			s := p00 + l.phiVar
			g := 1 / s
			e := l.phi - x0
			squares += e * e * g
			product *= s
			g0, g1, g2 := p00*g, p01*g, p02*g
			x0, x1, x2 = x0+g0*e, x1+g1*e, x2+g2*e
			p11, p12, p22 = p11-g1*p01, p12-g1*p02, p22-g2*p02
			p00, p01, p02 = p00-g0*p00, p01-g0*p01, p02-g0*p02
		}
		if l.rateVar < none {
			s := p11 + l.rateVar
			g := 1 / s
			e := l.rate - x1
			squares += e * e * g
			product *= s
			g0, g1, g2 := p01*g, p11*g, p12*g
			x0, x1, x2 = x0+g0*e, x1+g1*e, x2+g2*e
			p00, p02, p22 = p00-g0*p01, p02-g0*p12, p22-g2*p12
			p01, p11, p12 = p01-g0*p11, p11-g1*p11, p12-g1*p12
		}
		if product < 1e-150 || product > 1e150 { // a logarithm for several at a time
			logs += math.Log(product)
			product = 1
		}
	}
	b.x = vec{x0, x1, x2}
	b.p = sym{{p00, p01, p02}, {p01, p11, p12}, {p02, p12, p22}}
	return -0.5 * (squares + logs + math.Log(product))
}

// four takes looks in with four intensities at once.
type four struct {
	to    [4]belief  // afterwards
	like  [4]float64 // their likelihoods
	lanes lanes      // scratch
}

// takeInGo is belief's takeIn, from one belief, for four intensities for the step to
// each look, or four for all.
func (f *four) takeInGo(from *belief, list []look, q []float64) {
	var own []float64
	for lane := range f.to {
		own = own[:0]
		for i := lane; i < len(q); i += 4 {
			own = append(own, q[i])
		}
		f.to[lane] = *from
		f.like[lane] = f.to[lane].takeIn(list, own)
	}
}
