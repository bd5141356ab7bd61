package phase

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Blades that are not alike, or not evenly set, shift the pulses of a rotor in a
// way that comes again with every turn. What does so is no change of speed.
//
// The pattern is a Fourier series over the turn, as the window of each block lets
// it through. Its coefficients are found together with the motion, by generalised
// least squares: the series' terms pass through the same filter as the phases do,
// and the surprises of these are fitted by theirs (the diffuse filter of de Jong
// 1991, with a prior).

// pattern is the phase that comes again with every turn.
type pattern struct {
	columns [][]float64 // the terms of the series, by block
	coef    []float64
	cov     *mat.SymDense
}

const (
	// mostTerms is the highest multiple of a turn in the series, and leastPassed
	// the share of a term that blocks must let through.
	mostTerms, leastPassed = 6, 0.1
	// patternSD is how far from even the pulses are beforehand, in radians of the
	// pulse rate, for each term.
	patternSD = 0.15
	// A pattern must make the phases likelier by patternGain nats.
	patternGain = 3.0
	// patternRounds is how often pattern and intensity are fitted in turn: only
	// without the pattern is it seen how calm the motion is.
	patternRounds = 3
	// tenfolds is how many intensities, each a tenth of the one before, are tried.
	tenfolds = 7
)

// passed returns the share of an oscillation of x periods that a Hann window lets
// through.
func passed(x float64) float64 {
	switch {
	case x < 1e-6:
		return 1
	case math.Abs(x-1) < 1e-6:
		return 0.5
	}
	return math.Sin(math.Pi*x) / (math.Pi * x) / (1 - x*x)
}

// newPattern lays out the terms for blocks of a rotor that gives so many pulses a
// turn, rate(i) a second at block i; nil if no block is short enough to show any, or
// if there is less than a turn.
func newPattern(blocks []Block, rate func(i int) float64, pulses int) *pattern {
	n := len(blocks)
	if pulses < 2 || blocks[n-1].Phi-blocks[0].Phi < 2*math.Pi*float64(pulses) {
		return nil
	}
	p := &pattern{}
	for k := 1; k <= mostTerms && 2*k <= pulses; k++ {
		c, s := make([]float64, n), make([]float64, n)
		most := 0.0
		for i, b := range blocks {
			turns := float64(k) / float64(pulses)
			h := passed(turns * b.Length * rate(i))
			most = math.Max(most, math.Abs(h))
			sn, cs := math.Sincos(turns * b.Phi)
			c[i], s[i] = h*cs, h*sn
		}
		if most >= leastPassed {
			p.columns = append(p.columns, c, s)
		}
	}
	if len(p.columns) == 0 {
		return nil
	}
	return p
}

// fit fits the pattern to the phases, given the intensities of the prior, and
// returns by how much likelier (nats) it makes them.
func (t *pattern) fit(p []Point, prior Prior) (gain float64) {
	unit := timeUnit(p)
	p, prior = inUnits(p, prior, unit)
	n := len(t.columns)
	a, b := mat.NewSymDense(n, nil), make([]float64, n)
	cur := prior.belief()
	states, v := make([]vec, n), make([]float64, n)
	// a surprise e of the phases, of variance s, and v of the terms
	take := func(row [3]float64, e, s float64) {
		g := vec{row[0] / s, row[1] / s, row[2] / s}
		for j := range n {
			for k := j; k < n; k++ {
				a.SetSym(j, k, a.At(j, k)+v[j]*v[k]/s)
			}
			b[j] += v[j] * e / s
			states[j] = plus(states[j], vec{g[0] * v[j], g[1] * v[j], g[2] * v[j]})
		}
		cur.update(row, e, s)
	}
	for i, q := range p {
		if i > 0 {
			dt := q.T - p[i-1].T
			cur.carry(dt, prior.q(i))
			for j := range states {
				states[j] = carried(states[j], dt)
			}
		}
		if !math.IsInf(q.Var, 1) {
			for j := range v {
				v[j] = t.columns[j][i] - states[j][0]
			}
			take(cur.p[0], q.Phi-prior.ref(p, q.T)-cur.x[0], cur.p[0][0]+q.Var)
		}
		if q.RateVar > 0 {
			for j := range v {
				v[j] = -states[j][1]
			}
			take(cur.p[1], q.Rate-prior.refRate(p, q.T)-cur.x[1], cur.p[1][1]+q.RateVar)
		}
	}
	for j := range n {
		a.SetSym(j, j, a.At(j, j)+1/(patternSD*patternSD))
	}
	var chol mat.Cholesky
	if !chol.Factorize(a) {
		t.coef, t.cov = nil, nil
		return 0
	}
	var c mat.VecDense
	if err := chol.SolveVecTo(&c, mat.NewVecDense(n, b)); err != nil {
		t.coef, t.cov = nil, nil
		return 0
	}
	t.coef = c.RawVector().Data
	t.cov = mat.NewSymDense(n, nil)
	if err := chol.InverseTo(t.cov); err != nil {
		t.coef, t.cov = nil, nil
		return 0
	}
	return 0.5*mat.Dot(mat.NewVecDense(n, b), &c) - 0.5*chol.LogDet() - float64(n)*math.Log(patternSD)
}

// at returns the phase of the pattern at block i.
func (t *pattern) at(i int) float64 {
	if t == nil || t.coef == nil {
		return 0
	}
	sum := 0.0
	for j, c := range t.columns {
		sum += t.coef[j] * c[i]
	}
	return sum
}

// without returns the points without the pattern.
func (t *pattern) without(p []Point) []Point {
	out := make([]Point, len(p))
	for i, q := range p {
		q.Phi -= t.at(i)
		out[i] = q
	}
	return out
}

// calmed fits the pattern to the phases along motions of the intensities of the prior
// and of less and less, as one that follows what comes again with every turn is more
// restless than the rotor. It leaves the pattern as it is along the one that makes the
// phases likeliest, and returns by how much likelier (nats) than by the prior alone.
func (t *pattern) calmed(p []Point, prior Prior) (gain float64) {
	without, from := likeOf(p, prior), prior.Q
	gain = math.Inf(-1)
	var coef []float64
	var cov *mat.SymDense
	for k := range tenfolds {
		prior.Q = make([]float64, len(from))
		for i, q := range from {
			prior.Q[i] = q * math.Pow(tenfold, -float64(k))
		}
		if g := t.fit(p, prior) + likeOf(p, prior) - without; g > gain {
			gain, coef, cov = g, t.coef, t.cov
		}
	}
	t.coef, t.cov = coef, cov
	return gain
}

// steadied returns the points without the pattern and the one intensity that then
// explains them, or the points as they are and the intensity given where there is
// none.
func (t *pattern) steadied(p []Point, prior Prior, qLo, qHi, q float64, stopped func() error) ([]Point, float64, error) {
	if t == nil {
		return p, q, nil
	}
	clean := p
	for range patternRounds {
		prior.Q = []float64{q}
		if t.calmed(p, prior) < patternGain {
			t.coef = nil
			break
		}
		clean = t.without(p)
		next, err := Fit(clean, prior, qLo, qHi, stopped)
		if err != nil {
			return nil, 0, err
		}
		if next >= q {
			break
		}
		q = next
	}
	return clean, q, nil
}

// Recurs reports whether the motion that was found comes again with every turn of a
// rotor that gives so many pulses a turn: then it is of blades that are not alike.
func (r *Result) Recurs(pulses int) bool {
	t := newPattern(r.Blocks, func(i int) float64 { return r.Motion[i].Omega / (2 * math.Pi) }, pulses)
	return t != nil && t.calmed(unwaved(r.Points), r.prior) > patternGain
}

// widen adds to what is known of the motion what is not known of the pattern.
func (t *pattern) widen(r *Result) {
	if t == nil || t.coef == nil {
		return
	}
	// what the pattern leaves open of the phase, over what is left open anyway
	share := 0.0
	for i, m := range r.Motion {
		share = math.Max(share, t.variance(func(j int) float64 { return t.columns[j][i] })/m.PhiVar)
	}
	if share < 0.02 {
		return
	}
	smooth := t.answers(r)
	for i := range r.Motion {
		m := &r.Motion[i]
		more := 1 + t.variance(func(j int) float64 { return smooth[j][i].Omega })/m.OmegaVar
		m.widen(more)
	}
}

// answers returns the motions that the smoother makes of phases of which each is one term.
func (t *pattern) answers(r *Result) [][]Smooth {
	out := make([][]Smooth, len(t.columns))
	for j, c := range t.columns {
		p := make([]Point, len(r.Points))
		for i, q := range r.Points {
			p[i] = Point{T: q.T, Phi: c[i], Var: q.Var, RateVar: q.RateVar}
		}
		out[j], _ = Run(p, Prior{SD: r.prior.SD, Q: r.prior.Q})
	}
	return out
}

// variance returns that of a sum over the terms with the given weights.
func (t *pattern) variance(weight func(j int) float64) float64 {
	n := len(t.columns)
	w := make([]float64, n)
	for j := range w {
		w[j] = weight(j)
	}
	sum := 0.0
	for j := range n {
		for k := range n {
			sum += w[j] * w[k] * t.cov.At(j, k)
		}
	}
	return sum
}
