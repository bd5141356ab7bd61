package figure

import (
	"fmt"
	"math"
	"slices"

	"rotorhum/tacho"
)

// Curve is one set of points in a [Plot]: a line, dots, stems or bars. Make one
// with Line, Dots, Stems, Bars, Function, Values, Histogram, Levels, Amplitudes,
// Shape, Response, RuleX or RuleY. What is wrong with its numbers, Plot says.
type Curve struct {
	name string
	kind curveKind
	x, y []float64
	// lo and hi are the ends of an interval around each y, or nil.
	lo, hi []float64
	f      func(x float64) float64
	// xlabel and ylabel are what the axes are called unless Axes says so.
	xlabel, ylabel string
	err            error
}

type curveKind int

const (
	lineCurve curveKind = iota
	dotsCurve
	stemsCurve
	barsCurve
	ruleXCurve
	ruleYCurve
)

// newCurve copies x and y, so that changing them later changes no picture.
func newCurve(kind curveKind, name string, x, y []float64) Curve {
	c := Curve{name: name, kind: kind, y: append([]float64(nil), y...)}
	switch {
	case len(y) == 0:
		c.err = fmt.Errorf("it has no points: %w", tacho.ErrTooShort)
	case x == nil:
		c.x = make([]float64, len(y))
		for i := range c.x {
			c.x[i] = float64(i)
		}
	case len(x) != len(y):
		c.err = fmt.Errorf("it has %d numbers in x and %d in y: %w", len(x), len(y), tacho.ErrOption)
	default:
		c.x = append([]float64(nil), x...)
	}
	for i := range c.x {
		if c.err == nil && !(finite(c.x[i]) && finite(c.y[i])) {
			c.err = fmt.Errorf("its point %d is (%g, %g): %w", i, c.x[i], c.y[i], tacho.ErrNotFinite)
		}
	}
	return c
}

// Line joins the points (x, y) in their order. x nil stands for 0, 1, 2 …, here
// and in Dots, Stems and Bars.
func Line(name string, x, y []float64) Curve { return newCurve(lineCurve, name, x, y) }

// Dots marks the points (x, y).
func Dots(name string, x, y []float64) Curve { return newCurve(dotsCurve, name, x, y) }

// Stems marks the points (x, y) and ties each to y = 0: what samples and the
// lines of a short spectrum are.
func Stems(name string, x, y []float64) Curve { return newCurve(stemsCurve, name, x, y) }

// Bars stands bars on y = 0 around each x, as wide as the smallest distance
// between them allows.
func Bars(name string, x, y []float64) Curve { return newCurve(barsCurve, name, x, y) }

// Function draws f over the range of x that the other curves or the axes give.
func Function(name string, f func(x float64) float64) Curve {
	c := Curve{name: name, kind: lineCurve, f: f}
	if f == nil {
		c.err = fmt.Errorf("there is no function: %w", tacho.ErrOption)
	}
	return c
}

// Values marks measured values with their 95 % intervals. They must have one
// unit.
func Values(name string, x []float64, values []tacho.Value) Curve {
	y, lo, hi := make([]float64, len(values)), make([]float64, len(values)), make([]float64, len(values))
	var err error
	for i, v := range values {
		y[i] = v.X
		lo[i], hi[i] = v.CI95()
		if v.Unit != values[0].Unit {
			err = fmt.Errorf("one value is in %q, another in %q: %w", values[0].Unit, v.Unit, tacho.ErrUnit)
		}
	}
	c := Dots(name, x, y).Interval(lo, hi)
	if err != nil {
		c.err = err
	}
	if len(values) > 0 {
		c.ylabel = values[0].Unit
	}
	return c
}

// Histogram counts the values in equal bins, whose number is at least 1, and
// draws the counts as bars.
func Histogram(name string, values []float64, bins int) Curve {
	if err := newCurve(dotsCurve, name, nil, values).err; err != nil || bins < 1 {
		if err == nil {
			err = fmt.Errorf("a histogram of %d bins; it needs at least one: %w", bins, tacho.ErrOption)
		}
		return Curve{name: name, err: err}
	}
	lo, hi := values[0], values[0]
	for _, v := range values {
		lo, hi = math.Min(lo, v), math.Max(hi, v)
	}
	if lo == hi {
		lo, hi = lo-0.5, hi+0.5
	}
	width := (hi - lo) / float64(bins)
	x, y := make([]float64, bins), make([]float64, bins)
	for i := range x {
		x[i] = lo + (float64(i)+0.5)*width
	}
	for _, v := range values {
		y[min(int((v-lo)/width), bins-1)]++
	}
	c := Bars(name, x, y)
	c.ylabel = "count"
	return c
}

// levelsDepth is how far below its highest line a level is still drawn, in dB.
const levelsDepth = 120

// Levels draws the level of a spectrum against frequency, in decibels relative
// to a full-scale sine: the way to lay several spectra over one another. What
// lies more than 120 dB below the highest line is drawn there.
func Levels(name string, spec *tacho.Spectrum) Curve {
	return spectrumCurve(name, spec, "level (dB re full-scale sine)", true)
}

// Amplitudes is Levels in plain amplitude: a sine of full scale reads 1.
func Amplitudes(name string, spec *tacho.Spectrum) Curve {
	return spectrumCurve(name, spec, "amplitude (full scale = 1)", false)
}

func spectrumCurve(name string, spec *tacho.Spectrum, ylabel string, inDB bool) Curve {
	if spec == nil || spec.Len() < 2 {
		return Curve{name: name, err: fmt.Errorf("a spectrum of at least two bins is needed: %w", tacho.ErrTooShort)}
	}
	y := spec.Amplitudes()
	if inDB {
		top := math.Inf(-1)
		for k := range y {
			y[k] = spec.DB(k)
			top = math.Max(top, y[k])
		}
		for k := range y {
			y[k] = math.Max(y[k], top-levelsDepth) // silence everywhere stays infinite and is refused
		}
	}
	c := Line(name, spec.Freqs(), y)
	c.xlabel, c.ylabel = "frequency (Hz)", ylabel
	return c
}

// Shape draws the n weights of a window, relative to the largest, against time,
// as a share of its length.
func Shape(w tacho.Window, n int) Curve {
	if n < 2 {
		return Curve{name: w.Name(), err: fmt.Errorf("a window of %d samples has no shape: %w", n, tacho.ErrOption)}
	}
	y := append(w.Weights(n), 0)
	y[n] = y[0] // windows are periodic
	x := make([]float64, n+1)
	top := slices.Max(y)
	for i := range x {
		x[i] = float64(i) / float64(n)
		y[i] /= top
	}
	c := Line(w.Name(), x, y)
	c.xlabel, c.ylabel = "time (lengths of the window)", "weight (largest = 1)"
	return c
}

// Response draws the line that a single tone has in a spectrum through the
// window: its height in decibels against the distance from the tone, 16 bins
// to either side, down to -120 dB.
func Response(w tacho.Window) Curve {
	const n, reach, perBin = 1024, 16, 20
	x, y := make([]float64, 2*reach*perBin+1), make([]float64, 2*reach*perBin+1)
	for i := range x {
		x[i] = float64(i-reach*perBin) / perBin
		y[i] = math.Max(20*math.Log10(w.Response(n, math.Abs(x[i]))), -levelsDepth)
	}
	c := Line(w.Name(), x, y)
	c.xlabel, c.ylabel = "distance from the tone (bins)", "level (dB re its top)"
	return c
}

// RuleX draws a dashed upright rule at x with words beside it.
func RuleX(words string, x float64) Curve {
	c := newCurve(ruleXCurve, words, []float64{x}, []float64{0})
	return c
}

// RuleY draws a dashed level rule at y with words above it.
func RuleY(words string, y float64) Curve {
	c := newCurve(ruleYCurve, words, []float64{0}, []float64{y})
	return c
}

// Interval returns the curve with an interval from lo to hi around each of its
// points: bars at dots, a band around a line.
func (c Curve) Interval(lo, hi []float64) Curve {
	switch {
	case c.err != nil:
		return c
	case c.kind != dotsCurve && c.kind != lineCurve || c.f != nil:
		c.err = fmt.Errorf("only dots and lines of points take intervals: %w", tacho.ErrOption)
		return c
	case len(lo) != len(c.y) || len(hi) != len(c.y):
		c.err = fmt.Errorf("it has %d points and intervals from %d to %d numbers: %w", len(c.y), len(lo), len(hi), tacho.ErrOption)
		return c
	}
	for i := range lo {
		if !(finite(lo[i]) && finite(hi[i]) && lo[i] <= hi[i]) {
			c.err = fmt.Errorf("the interval of its point %d is %g to %g: %w", i, lo[i], hi[i], tacho.ErrNotFinite)
			return c
		}
	}
	c.lo, c.hi = append([]float64(nil), lo...), append([]float64(nil), hi...)
	return c
}

// Error is Interval from y-u to y+u.
func (c Curve) Error(u []float64) Curve {
	if c.err != nil || len(u) != len(c.y) {
		return c.Interval(u, u) // which says what is wrong
	}
	lo, hi := make([]float64, len(u)), make([]float64, len(u))
	for i := range u {
		lo[i], hi[i] = c.y[i]-u[i], c.y[i]+u[i]
	}
	return c.Interval(lo, hi)
}

// isRule reports whether the curve is a rule.
func (c Curve) isRule() bool { return c.kind == ruleXCurve || c.kind == ruleYCurve }
