// Package evidence weighs lines of a power spectrum: how much more likely a
// normalised power is if a line stands there than if only noise does, and how
// much evidence a whole comb of such places adds up to.
//
// A normalised power z is the squared magnitude of a Fourier coefficient over
// its expected value under noise alone, so that without a line z is
// exponentially distributed with mean one. All evidence is in nats, as the
// natural logarithm of a likelihood ratio.
package evidence

import (
	"math"
	"sync"
)

// Line is the evidence of single lines, tabulated for speed. It is read-only
// after New and may be shared.
//
// Three things can stand at a place: nothing (z has mean one), a line of the
// comb (z has mean 1+rho, rho unknown over many decades), or a line of
// something else, which is rare. The last bounds what one loud line can say:
// beyond some 10 nats the evidence grows only with the logarithm of the
// power, so that a single loud stranger cannot outvote a whole comb.
type Line struct {
	present float64 // prior probability that a line of the comb is there
	table   []float64
	slope   float64
	last    float64
}

// The table reaches to zMax in steps of zStep; beyond it the evidence is
// extended linearly in ln z, as the densities themselves behave.
const (
	zStep = 1.0 / 16
	zMax  = 192.0
)

// New makes the table for lines that are present with probability present
// (0 < present < 1) where a stranger's line is present with probability
// stranger.
func New(present, stranger float64) *Line {
	line, other := tabled()
	a, b := densities()
	return tabulate(present, stranger, func(i int) (float64, float64) { return line[i], other[i] },
		func(z float64) (float64, float64) { return a.at(z), b.at(z) })
}

// tabulate makes the table of lines whose density, and that of strangers, is given
// at every step and, for what lies beyond, anywhere.
func tabulate(present, stranger float64, step func(i int) (line, other float64), at func(z float64) (line, other float64)) *Line {
	n := int(zMax/zStep) + 2
	l := &Line{present: present, table: make([]float64, n)}
	for i := range l.table {
		line, other := step(i)
		l.table[i] = weighed(float64(i)*zStep, line, other, present, stranger)
	}
	l.last = l.table[n-1]
	z := float64(n-1) * zStep
	line, other := at(z * 1.01)
	l.slope = (weighed(z*1.01, line, other, present, stranger) - l.last) / math.Log(1.01)
	return l
}

// lineTail and strangerTail are the exponents of the prior densities of a
// line's power to noise ratio, rho^-tail: quiet lines are commoner than loud
// ones, and strangers' more so.
const (
	lineTail     = 1.25
	strangerTail = 1.85
	rhoMin       = 1.5
	rhoMax       = 1e9
)

// density is that of z for a line whose rho follows a power law between rhoMin
// and rhoMax: a sum over many rho.
type density struct{ share, mean []float64 }

// newDensity returns the density of the given exponent.
func newDensity(tail float64) *density {
	const steps = 240
	d := &density{}
	lo, hi := math.Log(rhoMin), math.Log(rhoMax)
	h := (hi - lo) / steps
	norm := 0.0
	for i := 0; i <= steps; i++ {
		u := lo + h*float64(i)
		w := math.Exp((1 - tail) * u)
		norm += w
		d.share = append(d.share, w)
		d.mean = append(d.mean, 1+math.Exp(u))
	}
	for i, m := range d.mean {
		d.share[i] /= norm * m
	}
	return d
}

func (d *density) at(z float64) float64 {
	sum := 0.0
	for i, m := range d.mean {
		sum += d.share[i] * math.Exp(-z/m)
	}
	return sum
}

// densities returns those of the lines of a stack and of strangers.
var densities = sync.OnceValues(func() (line, stranger *density) {
	return newDensity(lineTail), newDensity(strangerTail)
})

// tabled holds both densities at the places of every table.
var tabled = sync.OnceValues(func() (line, stranger []float64) {
	a, b := densities()
	// the exponentials are the same for both
	for i := range int(zMax/zStep) + 2 {
		var p, q float64
		for k, m := range a.mean {
			e := math.Exp(-float64(i) * zStep / m)
			p += a.share[k] * e
			q += b.share[k] * e
		}
		line, stranger = append(line, p), append(stranger, q)
	}
	return line, stranger
})

// weighed is the evidence at z given the densities there.
func weighed(z, line, other, present, stranger float64) float64 {
	background := (1-stranger)*math.Exp(-z) + stranger*other
	return math.Log((1 - present) + present*line/background)
}

// At returns the evidence of normalised power z; a z below zero or NaN counts
// as no power at all.
func (l *Line) At(z float64) float64 {
	if !(z > 0) {
		return l.table[0]
	}
	if z > 1e15 {
		z = 1e15
	}
	x := z * (1 / zStep)
	i := int(x)
	if i >= len(l.table)-1 {
		return l.last + l.slope*math.Log(z/(float64(len(l.table)-1)*zStep))
	}
	f := x - float64(i)
	return l.table[i] + f*(l.table[i+1]-l.table[i])
}

// Present returns the prior probability that a line is there.
func (l *Line) Present() float64 { return l.present }

// Posterior returns the probability that a line of the comb stands at a place
// with normalised power z.
func (l *Line) Posterior(z float64) float64 {
	return 1 - (1-l.present)*math.Exp(-l.At(z))
}
