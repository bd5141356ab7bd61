package synth

import (
	"fmt"
	"sort"
)

// table is a curve given by value and slope on a regular grid from 0.
type table struct {
	step         float64
	value, slope []float64
}

// at interpolates by the cubic that meets value and slope at both neighbours;
// it never goes below zero.
func (c table) at(t float64) float64 {
	x := t / c.step
	if !(x > 0) {
		return c.value[0]
	}
	i := int(x)
	if i >= len(c.value)-1 {
		return c.value[len(c.value)-1]
	}
	return hermite(x-float64(i), c.value[i], c.value[i+1], c.step*c.slope[i], c.step*c.slope[i+1])
}

// hermite returns the cubic with values a, b and slopes da, db at 0 and 1.
func hermite(u, a, b, da, db float64) float64 {
	d := b - a
	return a + u*(da+u*(3*d-2*da-db+u*(da+db-2*d)))
}

// knotCurve is a smooth curve through points at any spacing.
type knotCurve struct {
	points []Point
	slope  []float64
}

// monotone chooses the slopes at the knots so that the cubic between two knots
// never leaves the range between them.
//
// Source: F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300:
// weighted harmonic mean of the neighbouring slopes, zero at a turning point.
func monotone(points []Point) knotCurve {
	n := len(points)
	c := knotCurve{points: append([]Point(nil), points...), slope: make([]float64, n)}
	for i := 1; i < n-1; i++ {
		h0, h1 := points[i].T-points[i-1].T, points[i+1].T-points[i].T
		d0, d1 := (points[i].Speed-points[i-1].Speed)/h0, (points[i+1].Speed-points[i].Speed)/h1
		if d0*d1 > 0 {
			w0, w1 := 2*h1+h0, h1+2*h0
			c.slope[i] = (w0 + w1) / (w0/d0 + w1/d1)
		}
	}
	return c
}

func (c knotCurve) at(t float64) float64 {
	p := c.points
	last := len(p) - 1
	if !(t > p[0].T) {
		return p[0].Speed
	}
	if t >= p[last].T {
		return p[last].Speed
	}
	i := sort.Search(last, func(i int) bool { return p[i+1].T > t })
	h := p[i+1].T - p[i].T
	return hermite((t-p[i].T)/h, p[i].Speed, p[i+1].Speed, h*c.slope[i], h*c.slope[i+1])
}

func checkPoints(points []Point) error {
	if len(points) == 0 {
		return fmt.Errorf("profile %q: no points; give at least one", KindPoints)
	}
	for i, p := range points {
		if !finite(p.T) || !(p.Speed >= 0 && p.Speed <= maxSpeed) {
			return fmt.Errorf("profile %q: point %d needs a time and a speed from 0 to %g rev/s", KindPoints, i+1, maxSpeed)
		}
		if i > 0 && !(p.T > points[i-1].T) {
			return fmt.Errorf("profile %q: point %d is not later than the one before it", KindPoints, i+1)
		}
	}
	return nil
}
