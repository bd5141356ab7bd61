package figure

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"gonum.org/v1/plot"

	"rotorhum/tacho"
)

// Axes says what a [Plot] is about and which part of it is shown. The zero value
// shows all of it at the standard size.
type Axes struct {
	// Title stands above the picture and Note below the title.
	Title, Note string
	// X and Y name the axes, with the unit, such as "time (s)"; "" stands for
	// what the first curve that knows calls them.
	X, Y string
	// XLo and XHi bound the x axis, YLo and YHi the y axis; where both are 0 the
	// data decide.
	XLo, XHi, YLo, YHi float64
	// LogX and LogY make equal ratios equally long.
	LogX, LogY bool
	// Names stand under x = 0, 1, 2 … instead of numbers.
	Names []string
	// Alt says in a sentence what the picture shows; what the curves are is
	// added by itself.
	Alt string
	// Width and Height are in CSS pixels; 0 stands for 800 and 380.
	Width, Height int
}

// Plot draws curves over one another, with a key above them when there are
// several. They differ in dash and marker as well as in colour.
//
// It returns an error if there is no curve with points, if a curve is no good,
// if the axes are backwards or not finite, and if a logarithmic axis would have
// to show a number that is not above zero.
func Plot(axes Axes, curves ...Curve) (*Picture, error) {
	v, err := viewOf([]View{{Title: axes.Title, Width: axes.Width, Height: axes.Height}}, 380)
	if err != nil {
		return nil, err
	}
	curves = append([]Curve(nil), curves...)
	drawn := 0
	for i, c := range curves {
		if c.err != nil {
			return nil, fmt.Errorf("figure: curve %d, %q: %w", i+1, c.name, c.err)
		}
		if !c.isRule() {
			drawn++
		}
		if axes.X == "" && c.xlabel != "" {
			axes.X = c.xlabel
		}
		if axes.Y == "" && c.ylabel != "" {
			axes.Y = c.ylabel
		}
	}
	if drawn == 0 {
		return nil, fmt.Errorf("figure: there is no curve to draw: %w", tacho.ErrTooShort)
	}
	if n := len(axes.Names); n > 0 && axes.XLo == 0 && axes.XHi == 0 {
		axes.XLo, axes.XHi = -0.5, float64(n)-0.5
	}
	x, err := rangeOf("x", axes.XLo, axes.XHi, axes.LogX, curves, Curve.reachX)
	if err != nil {
		return nil, err
	}
	for i := range curves {
		if curves[i].f != nil {
			if curves[i], err = curves[i].over(x, axes.LogX); err != nil {
				return nil, fmt.Errorf("figure: curve %d, %q: %w", i+1, curves[i].name, err)
			}
		}
	}
	y, err := rangeOf("y", axes.YLo, axes.YHi, axes.LogY, curves, func(c Curve) extent { return c.reachY(x) })
	if err != nil {
		return nil, err
	}
	if y[0] == y[1] {
		return nil, fmt.Errorf("figure: no point lies between x = %g and %g", x[0], x[1])
	}
	// A logarithmic axis is an even axis of exponents.
	toX, toY := axisScale(axes.LogX), axisScale(axes.LogY)
	p := newAxes(axes.X, axes.Y, [2]float64{toX(x[0]), toX(x[1])}, [2]float64{toY(y[0]), toY(y[1])})
	if axes.LogX {
		p.X.Tick.Marker = logTicks{}
	}
	if axes.LogY {
		p.Y.Tick.Marker = logTicks{}
	}
	if axes.Names != nil {
		p.X.Tick.Marker = nameTicks(axes.Names)
	}
	sh := sheet{title: axes.Title, note: axes.Note, plots: []*plot.Plot{p}}
	next := 0
	for _, c := range curves {
		if c.isRule() {
			continue
		}
		style := styleOf(next)
		p.Add(plotterFunc(c.drawer(style, toX, toY)))
		if c.name != "" {
			sh.key = append(sh.key, keyEntry{c.name, style, c.kind, c.lo != nil})
		}
		next++
	}
	if next == 1 && len(sh.key) == 1 && axes.Title == "" {
		sh.title, sh.key = sh.key[0].name, nil
	}
	p.Add(plotterFunc(rulesDrawer(curves, toX, toY)))
	return sh.picture(v, altOf(axes, curves, x)), nil
}

// extent is a range of numbers: lo > hi where there are none, and snug where no
// room is wanted at its ends. Above or below, it must hold zero if grounded.
type extent struct {
	lo, hi   float64
	snug     bool
	grounded bool
	smallest float64 // above zero
}

func (e *extent) hold(v float64) {
	e.lo, e.hi = math.Min(e.lo, v), math.Max(e.hi, v)
	if v > 0 {
		e.smallest = math.Min(e.smallest, v)
	}
}

func emptyExtent() extent {
	return extent{lo: math.Inf(1), hi: math.Inf(-1), smallest: math.Inf(1)}
}

// reachX returns the range of x that the curve needs.
func (c Curve) reachX() extent {
	e := emptyExtent()
	if c.kind == ruleYCurve {
		e.snug = true
		return e
	}
	for _, x := range c.x {
		e.hold(x)
	}
	e.snug = c.kind == lineCurve || c.kind == ruleXCurve
	if c.kind == barsCurve {
		half := c.barWidth() / 2
		e.hold(e.lo - half)
		e.hold(e.hi + half)
	}
	return e
}

// reachY returns the range of y that the curve needs between the bounds of x.
func (c Curve) reachY(x [2]float64) extent {
	e := emptyExtent()
	if c.kind == ruleXCurve {
		return e
	}
	e.grounded = c.kind == stemsCurve || c.kind == barsCurve
	for i, y := range c.y {
		if c.kind != ruleYCurve && (c.x[i] < x[0] || c.x[i] > x[1]) {
			continue
		}
		e.hold(y)
		if c.lo != nil {
			e.hold(c.lo[i])
			e.hold(c.hi[i])
		}
	}
	return e
}

// rangeOf returns the range of an axis: the bounds asked for, else what the
// curves need with a little room.
func rangeOf(axis string, lo, hi float64, log bool, curves []Curve, reach func(Curve) extent) ([2]float64, error) {
	if lo != 0 || hi != 0 {
		switch {
		case !finite(lo) || !finite(hi) || lo >= hi:
			return [2]float64{}, fmt.Errorf("figure: the %s axis from %g to %g is empty", axis, lo, hi)
		case log && lo <= 0:
			return [2]float64{}, fmt.Errorf("figure: the %s axis is logarithmic and cannot begin at %g", axis, lo)
		}
		return [2]float64{lo, hi}, nil
	}
	all, snug, grounded := emptyExtent(), true, false
	for _, c := range curves {
		e := reach(c)
		all.lo, all.hi, all.smallest = math.Min(all.lo, e.lo), math.Max(all.hi, e.hi), math.Min(all.smallest, e.smallest)
		snug = snug && e.snug
		grounded = grounded || e.grounded
	}
	switch {
	case all.lo > all.hi:
		if axis == "x" {
			return [2]float64{}, fmt.Errorf("figure: give the axes XLo and XHi: nothing else says over which x to draw: %w", tacho.ErrOption)
		}
		return [2]float64{}, nil
	case log && grounded:
		all.lo = all.smallest
		fallthrough
	case log:
		if all.lo <= 0 {
			return [2]float64{}, fmt.Errorf("figure: the %s axis is logarithmic and cannot show %g: %w", axis, all.lo, tacho.ErrOption)
		}
		room := math.Pow(all.hi/all.lo, 0.06)
		if room == 1 {
			room = 2
		}
		return [2]float64{all.lo / room, all.hi * room}, nil
	}
	if grounded {
		all.lo, all.hi = math.Min(all.lo, 0), math.Max(all.hi, 0)
	}
	span := all.hi - all.lo
	if span == 0 {
		span = math.Max(math.Abs(all.hi), 1)
		return [2]float64{all.lo - span/2, all.hi + span/2}, nil
	}
	room := 0.06 * span
	if axis == "x" {
		room = 0.03 * span
	}
	if snug && axis == "x" {
		room = 0
	}
	out := [2]float64{all.lo - room, all.hi + room}
	if grounded && all.lo == 0 {
		out[0] = 0
	}
	if grounded && all.hi == 0 {
		out[1] = 0
	}
	return out, nil
}

// axisScale returns what takes a number to its place on an even axis: itself or
// its exponent of ten, where what is not above zero lies below everything.
func axisScale(log bool) func(float64) float64 {
	if !log {
		return func(v float64) float64 { return v }
	}
	return func(v float64) float64 {
		if v <= 0 {
			return -400
		}
		return math.Log10(v)
	}
}

// functionPoints is how many points a function is drawn through.
const functionPoints = 601

// over returns a function as a line over x.
func (c Curve) over(x [2]float64, log bool) (Curve, error) {
	xs, ys := make([]float64, functionPoints), make([]float64, functionPoints)
	for i := range xs {
		t := float64(i) / (functionPoints - 1)
		xs[i] = x[0] + t*(x[1]-x[0])
		if log {
			xs[i] = x[0] * math.Pow(x[1]/x[0], t)
		}
		ys[i] = c.f(xs[i])
		if !finite(ys[i]) {
			return c, fmt.Errorf("the function is %g at x = %g: give the axes XLo and XHi where it is finite: %w", ys[i], xs[i], tacho.ErrNotFinite)
		}
	}
	line := Line(c.name, xs, ys)
	line.xlabel, line.ylabel = c.xlabel, c.ylabel
	return line, line.err
}

// barWidth returns the smallest distance between two bars, or 1.
func (c Curve) barWidth() float64 {
	width := math.Inf(1)
	for i := 1; i < len(c.x); i++ {
		if d := math.Abs(c.x[i] - c.x[i-1]); d > 0 {
			width = math.Min(width, d)
		}
	}
	if math.IsInf(width, 1) {
		return 1
	}
	return width
}

var kindWords = [...]string{"a line through", "dots at", "stems at", "bars at"}

// altOf says in words what a plot shows.
func altOf(axes Axes, curves []Curve, x [2]float64) string {
	var b strings.Builder
	for _, s := range []string{axes.Title, axes.Alt} {
		if s = strings.TrimSpace(s); s != "" {
			b.WriteString(s)
			if !strings.ContainsAny(s[len(s)-1:], ".!?") {
				b.WriteByte('.')
			}
			b.WriteByte(' ')
		}
	}
	if len(axes.Names) > 0 {
		fmt.Fprintf(&b, "Plot of %s for %s.", orElse(axes.Y, "y"), strings.Join(axes.Names, ", "))
	} else {
		fmt.Fprintf(&b, "Plot of %s against %s.", orElse(axes.Y, "y"), orElse(axes.X, "x"))
	}
	for _, c := range curves {
		switch c.kind {
		case ruleXCurve:
			fmt.Fprintf(&b, " A rule at x = %.4g: %s.", c.x[0], c.name)
			continue
		case ruleYCurve:
			fmt.Fprintf(&b, " A rule at y = %.4g: %s.", c.y[0], c.name)
			continue
		}
		n, low, high := 0, 0, 0
		first := -1
		for i := range c.x {
			if c.x[i] < x[0] || c.x[i] > x[1] {
				continue
			}
			if first < 0 {
				first, low, high = i, i, i
			}
			n++
			if c.y[i] < c.y[low] {
				low = i
			}
			if c.y[i] > c.y[high] {
				high = i
			}
		}
		b.WriteByte(' ')
		if c.name != "" {
			first, size := utf8.DecodeRuneInString(c.name)
			b.WriteString(string(unicode.ToUpper(first)) + c.name[size:] + ": ")
		}
		if n == 0 {
			b.WriteString("no points in view.")
			continue
		}
		// what is left of rounding, 1e-12 of the curve, differs between processors
		lowest, highest := c.y[low], c.y[high]
		if math.Abs(lowest) < 1e-12*math.Abs(highest) {
			lowest = 0
		} else if math.Abs(highest) < 1e-12*math.Abs(lowest) {
			highest = 0
		}
		fmt.Fprintf(&b, "%s %d points, lowest %.3g at x = %.4g, highest %.3g at x = %.4g", kindWords[c.kind], n, lowest, c.x[low], highest, c.x[high])
		if c.lo != nil {
			b.WriteString(", with intervals")
		}
		b.WriteByte('.')
	}
	return b.String()
}

func orElse(s, other string) string {
	if s == "" {
		return other
	}
	return s
}
