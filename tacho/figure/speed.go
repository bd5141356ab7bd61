package figure

import (
	"fmt"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rotorhum/tacho"
)

// Speed draws the shaft speed against time in revolutions per second, with its
// 95 % band and, unless peak is nil, the peak with its intervals in time and
// in speed. The right axis repeats the scale in revolutions per minute. Gaps of
// the track stay gaps.
//
// It returns an error if the track has no points, holds NaN, infinite or
// unordered points, or if the rotor has no pulses.
func Speed(track *tacho.Track, rotor tacho.Rotor, peak *tacho.PeakSpeed, view ...View) (*Picture, error) {
	return speed(track, rotor, peak, axisUnit{"rev/s", 1, "rpm", 60}, view)
}

// SpeedRPM is [Speed] with revolutions per minute on the left axis and
// revolutions per second on the right.
func SpeedRPM(track *tacho.Track, rotor tacho.Rotor, peak *tacho.PeakSpeed, view ...View) (*Picture, error) {
	return speed(track, rotor, peak, axisUnit{"rpm", 60, "rev/s", 1. / 60}, view)
}

// axisUnit names the unit of the left axis, how many of it are one revolution
// per second, and the unit of the right axis with how many of it are one of
// the left.
type axisUnit struct {
	left   string
	perRev float64
	right  string
	times  float64
}

// moment is one point of the track in the unit of the left axis.
type moment struct{ t, x, lo, hi float64 }

func speed(track *tacho.Track, rotor tacho.Rotor, peak *tacho.PeakSpeed, unit axisUnit, views []View) (*Picture, error) {
	v, err := viewOf(views, 420)
	if err != nil {
		return nil, err
	}
	runs, err := runsOf(track, rotor, unit.perRev, v)
	if err != nil {
		return nil, err
	}
	first, last := runs[0][0], runs[len(runs)-1][len(runs[len(runs)-1])-1]
	var marked *summit
	if peak != nil {
		if marked, err = summitOf(peak, rotor, unit); err != nil {
			return nil, err
		}
	}
	x := [2]float64{0, track.Seconds}
	if !(track.Seconds >= last.t) {
		x[1] = last.t
	}
	if v.To != 0 {
		x[1] = v.To
	}
	if x[0] = v.From; x[1] <= x[0] {
		x[1] = x[0] + 1
	}
	y := speedRange(runs, marked)

	axes := newAxes("time (s)", "shaft speed ("+unit.left+")", x, y)
	axes.Add(plotterFunc(func(c draw.Canvas, p *plot.Plot) {
		for _, run := range runs {
			drawRun(c, p, run)
		}
		if marked != nil {
			marked.draw(c, p)
		}
	}))
	sh := sheet{
		title:  v.Title,
		plots:  []*plot.Plot{axes},
		right:  rightAxisRoom(y[0], y[1], unit.times),
		margin: func(data draw.Canvas) { rightAxis(data, axes, unit.right, unit.times) },
	}
	sh.note = "line: speed, band: 95 % interval"
	if bandShare(runs, y) < 0.004 {
		sh.note = "line: speed, its 95 % interval mostly within the width of the line"
	}
	if marked != nil {
		sh.note += "   diamond: peak, bars: its 95 % intervals"
	}
	if sh.title == "" {
		sh.title = "Shaft speed"
		if rotor.Name != "" {
			sh.title += " of the " + rotor.Name
		}
	}
	lo, hi := first.x, first.x
	for _, run := range runs {
		for _, m := range run {
			lo, hi = math.Min(lo, m.x), math.Max(hi, m.x)
		}
	}
	alt := fmt.Sprintf("%s against time. The rotor is heard from %.2f s to %.2f s, in %s; the speed lies between %.4g and %.4g %s.",
		sh.title, first.t, last.t, stretches(len(runs)), lo, hi, unit.left)
	if marked != nil {
		alt += fmt.Sprintf(" The peak is %s; %s.", marked.text, marked.within)
	}
	return sh.picture(v, alt), nil
}

func stretches(n int) string {
	if n == 1 {
		return "one stretch"
	}
	return fmt.Sprintf("%d stretches", n)
}

// runsOf returns the track's points inside the view as stretches without gaps,
// at least one of them, none empty.
func runsOf(track *tacho.Track, rotor tacho.Rotor, perRev float64, v View) ([][]moment, error) {
	if track == nil || len(track.Points) == 0 {
		return nil, fmt.Errorf("figure: the track has no points to draw: %w", tacho.ErrNoReading)
	}
	if rotor.Pulses < 1 {
		return nil, fmt.Errorf("figure: %w: it is %d", tacho.ErrPulses, rotor.Pulses)
	}
	k := perRev / float64(rotor.Pulses)
	var runs [][]moment
	before := math.Inf(-1)
	for i, p := range track.Points {
		m := moment{p.T, float64(p.Tone) * k, float64(p.Lo95) * k, float64(p.Hi95) * k}
		if !finite(m.t) || !finite(m.x) || !finite(m.lo) || !finite(m.hi) {
			return nil, fmt.Errorf("figure: point %d of the track holds a NaN or an infinity: %+v", i, p)
		}
		if m.t <= before {
			return nil, fmt.Errorf("figure: point %d of the track, at %g s, does not come after the one before, at %g s", i, m.t, before)
		}
		if m.lo > m.x || m.hi < m.x {
			return nil, fmt.Errorf("figure: point %d of the track lies outside its own interval: %+v", i, p)
		}
		gap := len(runs) == 0 || m.t-before > 1.6*track.Step
		before = m.t
		if m.t < v.From || v.To != 0 && m.t > v.To {
			continue
		}
		if gap || len(runs) == 0 {
			runs = append(runs, nil)
		}
		runs[len(runs)-1] = append(runs[len(runs)-1], m)
	}
	if len(runs) == 0 {
		return nil, fmt.Errorf("figure: the track has no points between %g s and %g s", v.From, v.To)
	}
	return runs, nil
}

// speedRange returns the vertical range: from 0 when the speed changes much,
// else close around the data. Wide intervals may run out of it.
func speedRange(runs [][]moment, top *summit) [2]float64 {
	lo, hi := math.Inf(1), 0.0
	for _, run := range runs {
		for _, m := range run {
			lo, hi = math.Min(lo, m.x), math.Max(hi, m.x)
		}
	}
	band := bandShare(runs, [2]float64{0, 1})
	if top != nil {
		hi = math.Max(hi, top.x)
	}
	if hi == 0 {
		return [2]float64{0, 1}
	}
	if lo < 0.6*hi {
		room := 1.18
		if top != nil {
			room = 1.26 // for the words over the peak
		}
		return [2]float64{0, room * hi}
	}
	pad := math.Max(0.35*(hi-lo), math.Max(1.5*band, 1e-4*hi))
	return [2]float64{math.Max(0, lo-pad), hi + pad}
}

// bandShare returns the mean width of the intervals as a share of the axis.
func bandShare(runs [][]moment, y [2]float64) float64 {
	sum, n := 0.0, 0
	for _, run := range runs {
		for _, m := range run {
			sum += m.hi - m.lo
			n++
		}
	}
	return sum / float64(n) / (y[1] - y[0])
}

// drawRun draws one stretch: its band, its edges, its line.
func drawRun(c draw.Canvas, p *plot.Plot, run []moment) {
	x, y := p.Transforms(&c)
	run = thinned(run, c, x)
	band := make([]vg.Point, 0, 2*len(run))
	line := make([]vg.Point, 0, len(run))
	for _, m := range run {
		band = append(band, vg.Point{X: x(m.t), Y: y(m.hi)})
		line = append(line, vg.Point{X: x(m.t), Y: y(m.x)})
	}
	for i := len(run) - 1; i >= 0; i-- {
		band = append(band, vg.Point{X: x(run[i].t), Y: y(run[i].lo)})
	}
	if len(run) == 1 {
		c.StrokeLines(draw.LineStyle{Color: tide, Width: 1}, c.ClipLinesXY([]vg.Point{band[0], band[1]})...)
		if c.Contains(line[0]) {
			c.DrawGlyph(draw.GlyphStyle{Color: tide, Radius: 1.6, Shape: draw.CircleGlyph{}}, line[0])
		}
		return
	}
	c.FillPolygon(shoal, c.ClipPolygonXY(band))
	c.StrokeLines(draw.LineStyle{Color: tide, Width: 1.6}, c.ClipLinesXY(line)...)
}

// thinned returns the run with at most about two points per pixel: the lowest
// and the highest of each half-pixel column, each with the widest interval of
// the column, so that no peak and no doubt is lost.
func thinned(run []moment, c draw.Canvas, x func(float64) vg.Length) []moment {
	width := x(run[len(run)-1].t) - x(run[0].t)
	columns := int(2*width/pixel) + 1
	if len(run) <= 2*columns {
		return run
	}
	out := make([]moment, 0, 2*columns)
	for i := 0; i < columns; i++ {
		part := run[i*len(run)/columns : (i+1)*len(run)/columns]
		if len(part) == 0 {
			continue
		}
		least, most := 0, 0
		lo, hi := part[0].lo, part[0].hi
		for j, m := range part {
			if m.x < part[least].x {
				least = j
			}
			if m.x > part[most].x {
				most = j
			}
			lo, hi = math.Min(lo, m.lo), math.Max(hi, m.hi)
		}
		for _, j := range []int{min(least, most), max(least, most)} {
			m := part[j]
			m.lo, m.hi = lo, hi
			out = append(out, m)
		}
	}
	return out
}

// summit is the peak in the unit of the left axis.
type summit struct {
	t, tlo, thi  float64
	x, lo, hi    float64
	text, within string
}

func summitOf(peak *tacho.PeakSpeed, rotor tacho.Rotor, unit axisUnit) (*summit, error) {
	fr, err := rotor.Speed(peak.Tone)
	if err != nil {
		return nil, fmt.Errorf("figure: the peak: %w", err)
	}
	x, err := fr.To(unit.left)
	if err != nil {
		return nil, fmt.Errorf("figure: the peak: %w", err)
	}
	lo, hi := x.CI95()
	for _, a := range []float64{peak.T, peak.TLo95, peak.THi95, x.X, lo, hi} {
		if !finite(a) {
			return nil, fmt.Errorf("figure: the peak holds a NaN or an infinity: %+v", *peak)
		}
	}
	return &summit{
		peak.T, peak.TLo95, peak.THi95, x.X, lo, hi,
		x.Rounded() + " at " + peak.When(),
		"95 %: " + x.Between() + ", " + peak.WhenBetween(),
	}, nil
}

// draw draws the diamond, its bars and its words.
func (s *summit) draw(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	at := vg.Point{X: x(s.t), Y: y(s.x)}
	if !c.Contains(at) {
		return
	}
	bar := draw.LineStyle{Color: buoy, Width: 1.3}
	const cap = 3
	for _, end := range [][2]vg.Length{{x(s.tlo), at.Y}, {x(s.thi), at.Y}} {
		c.StrokeLines(bar, c.ClipLinesXY([]vg.Point{at, {X: end[0], Y: end[1]}}, []vg.Point{{X: end[0], Y: end[1] - cap}, {X: end[0], Y: end[1] + cap}})...)
	}
	for _, end := range [][2]vg.Length{{at.X, y(s.lo)}, {at.X, y(s.hi)}} {
		c.StrokeLines(bar, c.ClipLinesXY([]vg.Point{at, {X: end[0], Y: end[1]}}, []vg.Point{{X: end[0] - cap, Y: end[1]}, {X: end[0] + cap, Y: end[1]}})...)
	}
	diamond(c, at, 5.2, paper, buoy)

	head, foot := bold(words(labelSize, ink)), words(tickSize, slate)
	wide := max(head.Width(s.text), foot.Width(s.within))
	const high = labelSize + tickSize + 4
	// Over the peak, as far to the right as there is room; else beside it.
	where := vg.Point{X: min(at.X+10, c.Max.X-2-wide), Y: at.Y + 8}
	if where.Y+high > c.Max.Y {
		where.Y = at.Y - 10 - high
		if where.X < at.X+10 {
			where.X = at.X - 10 - wide
		}
	}
	where.X = max(where.X, c.Min.X+2)
	ground := vg.Rectangle{Min: where, Max: vg.Point{X: where.X + wide, Y: where.Y + high}}
	c.SetColor(casing)
	c.Fill(ground.Path())
	c.FillText(foot, vg.Point{X: where.X, Y: where.Y + 3}, s.within)
	c.FillText(head, vg.Point{X: where.X, Y: where.Y + tickSize + 5}, s.text)
}

// diamond draws a marker of half-width r.
func diamond(c draw.Canvas, at vg.Point, r vg.Length, fill, edge interface{ RGBA() (r, g, b, a uint32) }) {
	pts := []vg.Point{{X: at.X - r, Y: at.Y}, {X: at.X, Y: at.Y + r}, {X: at.X + r, Y: at.Y}, {X: at.X, Y: at.Y - r}}
	c.FillPolygon(fill, pts)
	c.StrokeLines(draw.LineStyle{Color: edge, Width: 1.8}, append(pts, pts[0], pts[1]))
}
