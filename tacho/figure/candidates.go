package figure

import (
	"fmt"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rotorhum/tacho"
)

// Candidates draws the rates that every moment of a recording offers, the darker
// the more evidence, with the courses that were chained from them: those taken
// for a rotor, those refused, and the track that came out, which may be another
// multiple. Rates stand on a scale of equal ratios.
//
// It returns an error if the inspection is nil or holds no candidates in view.
func Candidates(in *tacho.Inspection, view ...View) (*Picture, error) {
	v, err := viewOf(view, 460)
	if err != nil {
		return nil, err
	}
	if in == nil || in.Track == nil || len(in.Candidates) == 0 {
		return nil, errNothing("the inspection", "Inspect")
	}
	t := [2]float64{v.From, v.To}
	if v.To == 0 {
		t[1] = in.Track.Seconds
	}
	f := [2]float64{float64(v.Lo), float64(v.Hi)}
	if v.Hi == 0 || v.Lo == 0 {
		lo, hi := math.Inf(1), 0.0
		for _, c := range in.Candidates {
			if c.T >= t[0] && c.T <= t[1] {
				lo, hi = math.Min(lo, float64(c.Tone)), math.Max(hi, float64(c.Tone))
			}
		}
		if v.Lo == 0 {
			f[0] = 0.97 * lo
		}
		if v.Hi == 0 {
			f[1] = 1.03 * hi
		}
	}
	if !(f[0] > 0 && f[0] < f[1] && t[0] < t[1]) {
		return nil, fmt.Errorf("figure: no candidate lies between %.4g and %.4g s and %.4g and %.4g Hz: %w", t[0], t[1], f[0], f[1], tacho.ErrTooShort)
	}
	if err := v.ended(); err != nil {
		return nil, err
	}
	y := [2]float64{math.Log10(f[0]), math.Log10(f[1])}
	hm := candidateMap(in, t, y, v)

	axes := newAxes("time (s)", "pulse rate (Hz)", t, y)
	axes.Y.Tick.Marker = logTicks{}
	kept, refused, track := styleOf(1), styleOf(4), styleOf(2)
	kept.dashes, kept.width = nil, 4
	axes.Add(plotterFunc(func(c draw.Canvas, p *plot.Plot) {
		c.DrawImage(c.Rectangle, hm.image())
		for _, q := range in.Courses {
			style := refused
			if q.Kept {
				style = kept
			}
			tone := make([]float64, len(q.Tone))
			for i, r := range q.Tone {
				tone[i] = float64(r)
			}
			drawCourse(c, p, style, q.T, tone)
		}
		for _, fit := range in.Fits {
			drawCourse(c, p, track, fit.T, fit.Tone)
		}
	}))
	sh := sheet{title: v.Title, note: "the darker a mark, the more of its lines stand out of the noise", plots: []*plot.Plot{axes},
		right: barRoom, margin: func(data draw.Canvas) { hm.bar(data, "evidence (nats)") }}
	if sh.title == "" {
		sh.title = "Candidates of every moment, and the courses through them"
	}
	n, won := len(in.Courses), 0
	for _, q := range in.Courses {
		if q.Kept {
			won++
		}
	}
	if won > 0 {
		sh.key = append(sh.key, keyEntry{"course taken for a rotor", kept, lineCurve, false})
	}
	if won < n {
		sh.key = append(sh.key, keyEntry{"course refused", refused, lineCurve, false})
	}
	if len(in.Fits) > 0 {
		sh.key = append(sh.key, keyEntry{"track", track, lineCurve, false})
	}
	alt := fmt.Sprintf("Map of the candidates from %.4g to %.4g s and %.4g to %.4g Hz, with evidence up to %.3g nats. %d courses were chained, of which %d were taken for a rotor; the track has %s.",
		t[0], t[1], f[0], f[1], hm.hi, n, won, stretches(len(in.Fits)))
	return sh.picture(v, alt), nil
}

// candidateMap marks every candidate in view with a spot that is as dark as its
// evidence is large.
func candidateMap(in *tacho.Inspection, t, y [2]float64, v View) *heatmap {
	h := &heatmap{width: v.Width - 180, height: v.Height - 110}
	h.level = make([]float64, h.width*h.height)
	step := in.Track.Step / (t[1] - t[0]) * float64(h.width) // pixels of a moment
	half := max(1, int(math.Ceil(step/2)))
	for _, c := range in.Candidates {
		x := int((c.T - t[0]) / (t[1] - t[0]) * float64(h.width))
		row := int((y[1] - math.Log10(float64(c.Tone))) / (y[1] - y[0]) * float64(h.height))
		for i := max(0, x-half); i < min(h.width, x+half); i++ {
			for j := max(0, row-1); j <= min(h.height-1, row+1); j++ {
				p := &h.level[j*h.width+i]
				*p = math.Max(*p, c.Evidence)
			}
		}
	}
	for _, e := range h.level {
		h.hi = math.Max(h.hi, e)
	}
	if h.hi == 0 {
		h.hi = 1
	}
	return h
}

// courseGap is the pause, in seconds, over which a course is not drawn through.
const courseGap = 0.25

// drawCourse draws rates over time on a logarithmic axis.
func drawCourse(c draw.Canvas, p *plot.Plot, s curveStyle, t, tone []float64) {
	x, y := p.Transforms(&c)
	var line []vg.Point
	flush := func() {
		if len(line) > 1 {
			c.StrokeLines(s.line(), c.ClipLinesXY(line)...)
		}
		line = line[:0]
	}
	for i := range t {
		if i > 0 && t[i]-t[i-1] > courseGap {
			flush()
		}
		line = append(line, vg.Point{X: x(t[i]), Y: y(math.Log10(tone[i]))})
	}
	flush()
}
