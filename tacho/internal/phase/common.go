package phase

import (
	"math"
	"math/cmplx"
	"slices"
)

// measure returns the phase of the comb at each block, given lines that keep
// their amplitudes and phases for about the block's memory.
func (l *locked) measure() ([]Point, error) {
	n := len(l.blocks)
	points := make([]Point, n)
	l.kept, l.all = make([]float64, n), make([]float64, n)
	l.clear = clearing{}
	sums := make([]tally, n)
	turn, weight := make([]float64, n), make([]float64, n)
	y := make([]complex128, n)
	a := make([]complex128, n)
	around := l.within()
	// what turns the first line back by its correction, and the m-th line
	back, turned := make([]complex128, n), make([]complex128, n)
	for i, v := range l.theta {
		s, co := math.Sincos(v)
		back[i] = complex(co, -s)
	}
	top := slices.Max(l.used)
	for c := range l.lines {
		for i := range turned {
			turned[i] = 1
		}
		for m := 1; m <= top; m++ {
			if err := l.src.Stopped(); err != nil {
				return nil, err
			}
			fm := float64(m)
			line, noise, between := l.lines[c][m-1][:n], l.noise[c][m-1][:n], l.between[c][m-1][:n]
			for i := range turned {
				turned[i] *= back[i]
				y[i] = line[i] * turned[i]
			}
			l.amplitudes(a, y, noise, around)
			for i := range a {
				if m > l.used[i] {
					continue
				}
				s := noise[i]
				p := real(a[i])*real(a[i]) + imag(a[i])*imag(a[i])
				if b := between[i]; p > 0 {
					kept := (real(a[i])*real(y[i]) + imag(a[i])*imag(y[i])) / b
					all := (real(y[i])*real(y[i])+imag(y[i])*imag(y[i]))/b - 1
					l.kept[i] += kept
					l.all[i] += all
					l.clear.kept += kept * b / s
					l.clear.all += all * b / s
				}
				// a is the expected y
				sums[i].add(fm, (real(a[i])*imag(y[i])-imag(a[i])*real(y[i]))/s, (real(a[i])*real(y[i])+imag(a[i])*imag(y[i]))/s, p/s)
				if i > 0 && m <= l.used[i-1] {
					q := 2 * fm * fm * p / s
					z := a[i] * cmplx.Conj(a[i-1])
					turn[i] += q * cmplx.Phase(z) / fm
					weight[i] += q
				}
			}
		}
	}
	psi := 0.0
	for i, b := range l.blocks {
		if weight[i] > 0 {
			psi += turn[i] / weight[i]
		}
		e, v := sums[i].phase()
		// neighbouring Hann blocks share noise: 4/3 in the long run
		points[i] = Point{T: b.T, Var: 4.0 / 3 * v, Phi: b.Phi + l.theta[i] + psi + e}
	}
	return points, nil
}

// tally sums up what the lines of one block say of the common phase.
type tally struct {
	along, power float64 // over all lines, in units of their noise
	grad, info   float64 // the same, by order
	square       float64
	lines        float64
}

// add takes in the line of order m: its component across the expected one, that
// along it, and the power expected, over the noise.
func (t *tally) add(m, across, along, power float64) {
	t.along += along
	t.power += power
	t.grad += 2 * m * across
	t.info += 2 * m * m * power
	if power > 0 {
		t.square += 2 * across * across / power
		t.lines++
	}
}

// disagreement is the mean square, over what noise explains, from which on the
// lines of a block are taken to be disturbed: by a knock, by the edge of a gap.
const disagreement = 3

// phase returns the common phase of the lines over the expected one, and its
// variance, infinite where they say nothing.
//
// A gap in the recording, or a gain that was turned down, weakens all lines of
// a block alike: what is expected of them is scaled by how much of it is there.
func (t *tally) phase() (e, variance float64) {
	// some 20 nats stand for the belief that nothing is missing
	gain := math.Max(0, math.Min(1, (t.along+20)/(t.power+20)))
	info := t.info * gain * gain
	if !(info > 1e-9) || gain < 0.1 {
		return 0, math.Inf(1)
	}
	e = t.grad * gain / info
	// beyond a radian of the mean line the tangent is no guide
	chi := math.Max(0, t.square-t.grad*t.grad/t.info)
	return 0.6 * math.Tanh(e/0.6), math.Max(1, (4+chi)/(4+math.Max(0, t.lines-1))/disagreement) / info
}
