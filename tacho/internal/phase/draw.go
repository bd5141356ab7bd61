package phase

import (
	"iter"
	"math"
	"math/rand/v2"
)

// Draws yields count courses of motion that are as likely as the smoothed one
// given the points: samples of its posterior, by filtering forward and drawing
// backward. The spread of any property of the motion (its highest rate, say)
// over the draws is the uncertainty of that property. Each course is valid until
// the next.
func Draws(p []Point, prior Prior, count int, src *rand.Rand) iter.Seq[[]Smooth] {
	unit := timeUnit(p)
	p, prior = inUnits(p, prior, unit)
	start := prior.Start
	n := len(p)
	pred, post := make([]belief, n), make([]belief, n)
	filter(p, prior, func(i int, before, after belief) { pred[i], post[i] = before, after })
	ref := func(t float64) float64 { return prior.ref(p, t) }
	gain, root := make([]sym, n), make([]sym, n)
	guess := make([]Smooth, n) // what the draws are relative to
	for i := range p {
		dt := p[i].T - p[0].T
		guess[i] = Smooth{Phi: ref(p[i].T), Omega: start.Omega + start.Alpha*dt, Alpha: start.Alpha}
	}
	for i := 0; i+1 < n; i++ {
		f, _ := step(p[i+1].T-p[i].T, 0)
		if inv, ok := inverse(pred[i+1].p); ok {
			gain[i] = mul(mul(post[i].p, transpose(f)), inv)
			v := mul(mul(gain[i], pred[i+1].p), transpose(gain[i]))
			for a := range 3 {
				for b := range 3 {
					v[a][b] = post[i].p[a][b] - v[a][b]
				}
			}
			root[i] = cholesky(v)
		}
	}
	root[n-1] = cholesky(post[n-1].p)
	draw := make([]Smooth, n)
	return func(yield func([]Smooth) bool) {
		for range count {
			var x vec
			for i := n - 1; i >= 0; i-- {
				m := post[i].x
				if i+1 < n {
					dt := p[i+1].T - p[i].T
					e := apply(gain[i], vec{
						x[0] - m[0] - dt*m[1] - dt*dt/2*m[2],
						x[1] - m[1] - dt*m[2],
						x[2] - m[2],
					})
					m[0], m[1], m[2] = m[0]+e[0], m[1]+e[1], m[2]+e[2]
				}
				// the root is a lower triangle
				r := &root[i]
				z0, z1, z2 := src.NormFloat64(), src.NormFloat64(), src.NormFloat64()
				x[0] = m[0] + r[0][0]*z0
				x[1] = m[1] + r[1][0]*z0 + r[1][1]*z1
				x[2] = m[2] + r[2][0]*z0 + r[2][1]*z1 + r[2][2]*z2
				g := &guess[i]
				draw[i] = inSeconds(Smooth{Phi: x[0] + g.Phi, Omega: x[1] + g.Omega, Alpha: x[2] + g.Alpha}, unit)
			}
			if !yield(draw) {
				return
			}
		}
	}
}

func add(a, b sym) sym {
	for i := range 3 {
		for j := range 3 {
			a[i][j] += b[i][j]
		}
	}
	return a
}

// update takes in one measurement of the phase.
func update(x vec, p sym, phi, variance float64) (vec, sym) {
	s := p[0][0] + variance
	e := phi - x[0]
	k := vec{p[0][0] / s, p[1][0] / s, p[2][0] / s}
	row := p[0]
	for a := range 3 {
		x[a] += k[a] * e
		for b := range 3 {
			p[a][b] -= k[a] * row[b]
		}
	}
	for a := range 3 {
		for b := a + 1; b < 3; b++ {
			m := (p[a][b] + p[b][a]) / 2
			p[a][b], p[b][a] = m, m
		}
	}
	return x, p
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
