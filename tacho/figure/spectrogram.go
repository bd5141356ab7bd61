package figure

import (
	"fmt"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rotorhum/tacho"
)

// Spectrogram draws the level of a sound over time and frequency as a heat
// map, from light (quiet) to dark (loud), in decibels relative to a full-scale
// sine. Unless track is nil, the pulse tone of the track is drawn over it as
// the line 1, and its multiples as thin dotted lines with their numbers; gaps
// stay gaps.
//
// Unless the view bounds the frequency, the picture ends a little above the
// fourth multiple of the highest pulse tone, or where the spectrogram does. It
// returns an error if the spectrogram is nil, empty or silent, or if the track
// holds a NaN or an infinity.
func Spectrogram(sg *tacho.Spectrogram, track *tacho.Track, view ...View) (*Picture, error) {
	v, err := viewOf(view, 460)
	if err != nil {
		return nil, err
	}
	if sg == nil || len(sg.Times) == 0 || len(sg.Freqs) == 0 {
		return nil, fmt.Errorf("figure: a spectrogram with at least one block is needed: %w", tacho.ErrTooShort)
	}
	var runs [][]moment
	highest := 0.0
	if track != nil && len(track.Points) > 0 {
		if runs, err = runsOf(track, tacho.Rotor{Pulses: 1}, 1, v); err != nil {
			return nil, err
		}
		for _, run := range runs {
			for _, m := range run {
				highest = math.Max(highest, m.x)
			}
		}
	}
	pane, err := paneOf(sg, v, highest)
	if err != nil {
		return nil, err
	}
	hm, err := pane.heatmap(sg, v)
	if err != nil {
		return nil, fmt.Errorf("figure: %w", err)
	}
	if !hm.setRange() {
		return nil, fmt.Errorf("figure: the spectrogram is silent: there is nothing to draw")
	}

	axes := newAxes("time (s)", "frequency (Hz)", pane.t, pane.f)
	axes.Add(plotterFunc(func(c draw.Canvas, p *plot.Plot) {
		c.DrawImage(c.Rectangle, hm.image())
		drawTones(c, p, runs)
	}))
	sh := sheet{
		title:  v.Title,
		note:   fmt.Sprintf("%s window of %.3g ms", sg.Window.Name(), 1000*float64(sg.Len)/sg.Fs),
		plots:  []*plot.Plot{axes},
		right:  barRoom,
		margin: func(data draw.Canvas) { hm.bar(data, "level (dB re full-scale sine)") },
	}
	if sh.title == "" {
		sh.title = "Sound over time and frequency"
	}
	alt := fmt.Sprintf("Spectrogram from %.4g to %.4g s and %.4g to %.4g Hz; levels from %.0f to %.0f dB.",
		pane.t[0], pane.t[1], pane.f[0], pane.f[1], hm.lo, hm.hi)
	if runs != nil {
		sh.note += "   line 1: pulse tone of the track, dotted: its multiples"
		alt += fmt.Sprintf(" The track of the pulse tone is drawn over it, in %s, up to %.5g Hz.", stretches(len(runs)), highest)
	}
	return sh.picture(v, alt), nil
}

// leastBand is the least width, in hertz, of the band that is shown when the
// track chooses it: a slow rotor's sound lies far above its pulse rate.
const leastBand = 400

// pane is the part of time and frequency that is shown.
type pane struct{ t, f [2]float64 }

func paneOf(sg *tacho.Spectrogram, v View, highest float64) (pane, error) {
	reach, df := float64(sg.Len)/2/sg.Fs, sg.Fs/float64(sg.FFTLen)
	whole := pane{
		t: [2]float64{sg.Times[0] - reach, sg.Times[len(sg.Times)-1] + reach},
		f: [2]float64{math.Max(0, sg.Freqs[0]-df/2), sg.Freqs[len(sg.Freqs)-1] + df/2},
	}
	p := whole
	if highest > 0 {
		p.f[1] = math.Min(p.f[1], math.Max(4.6*highest, leastBand))
	}
	if v.From > 0 {
		p.t[0] = math.Max(p.t[0], v.From)
	}
	if v.To > 0 {
		p.t[1] = math.Min(p.t[1], v.To)
	}
	if v.Lo > 0 {
		p.f[0] = math.Max(p.f[0], float64(v.Lo))
	}
	if v.Hi > 0 {
		p.f[1] = math.Min(whole.f[1], float64(v.Hi))
	}
	if p.t[0] >= p.t[1] || p.f[0] >= p.f[1] {
		return p, fmt.Errorf("figure: the spectrogram covers %.4g to %.4g s and %.4g to %.4g Hz, and the view lies outside",
			whole.t[0], whole.t[1], whole.f[0], whole.f[1])
	}
	return p, nil
}

// heatmap resamples the levels inside the pane to about twice the pixels of the
// data area. Where several bins or blocks fall on one pixel it shows the
// loudest, so that no line is lost; where they are sparse it joins them by
// straight lines in dB.
func (p pane) heatmap(sg *tacho.Spectrogram, v View) (*heatmap, error) {
	h := &heatmap{width: 2 * (v.Width - 180), height: 2 * (v.Height - 110)}
	h.level = make([]float64, h.width*h.height)
	hop, df := float64(sg.Hop)/sg.Fs, sg.Fs/float64(sg.FFTLen)
	columns := scanOf(p.t[0], p.t[1], sg.Times[0], hop, len(sg.Times), h.width)
	rows := scanOf(p.f[0], p.f[1], sg.Freqs[0], df, len(sg.Freqs), h.height)
	block := make([]float64, len(sg.Freqs))
	for x, c := range columns {
		if err := v.ended(); err != nil {
			return nil, err
		}
		for k := range block {
			block[k] = c.pick(func(i int) float64 { return sg.DB(i, k) })
		}
		for y, r := range rows {
			h.level[(h.height-1-y)*h.width+x] = r.pick(func(k int) float64 { return block[k] })
		}
	}
	return h, nil
}

// scan says which of many values fall on one pixel: those from first to last,
// of which the largest counts, or if they are the same or neighbours and
// sparse, the two joined with the given weight of the second.
type scan struct {
	first, last int
	weight      float64
	sparse      bool
}

// scanOf maps n values, the first at origin and the others every step, to the
// given number of pixels from lo to hi.
func scanOf(lo, hi, origin, step float64, n, pixels int) []scan {
	out := make([]scan, pixels)
	per := (hi - lo) / float64(pixels) / step // values per pixel
	for i := range out {
		from := (lo+(hi-lo)*float64(i)/float64(pixels)-origin)/step + 0.5
		if per > 1 {
			first := int(math.Floor(from))
			last := int(math.Floor(from + per))
			if last > first {
				last--
			}
			out[i] = scan{first: within(first, n), last: within(last, n)}
			continue
		}
		at := from + per/2 - 0.5
		low := math.Floor(at)
		out[i] = scan{first: within(int(low), n), last: within(int(low)+1, n), weight: at - low, sparse: true}
	}
	return out
}

func within(i, n int) int { return min(max(i, 0), n-1) }

func (s scan) pick(at func(int) float64) float64 {
	if s.sparse {
		a, b := at(s.first), at(s.last)
		if s.first == s.last || math.IsInf(a, -1) || math.IsInf(b, -1) {
			if s.weight < 0.5 {
				return a
			}
			return b
		}
		return a + (b-a)*s.weight
	}
	most := math.Inf(-1)
	for i := s.first; i <= s.last; i++ {
		most = math.Max(most, at(i))
	}
	return most
}

// drawTones draws the pulse tone and its multiples.
func drawTones(c draw.Canvas, p *plot.Plot, runs [][]moment) {
	x, y := p.Transforms(&c)
	number := aligned(bold(words(8.6, paper)), text.XCenter, text.YCenter)
	for m := 1; m <= 4; m++ {
		style := draw.LineStyle{Color: buoy, Width: 1.5}
		if m > 1 {
			style = draw.LineStyle{Color: buoy, Width: 1.2, Dashes: []vg.Length{2, 4}}
		}
		under := style
		under.Color, under.Width = casing, style.Width+1.6
		var last vg.Point
		seen := false
		for _, run := range runs {
			line := make([]vg.Point, 0, len(run))
			for _, q := range thinned(run, c, x) {
				at := vg.Point{X: x(q.t), Y: y(float64(m) * q.x)}
				line = append(line, at)
				if c.Contains(at) {
					last, seen = at, true
				}
			}
			parts := c.ClipLinesXY(line)
			c.StrokeLines(under, parts...)
			c.StrokeLines(style, parts...)
		}
		if seen {
			c.DrawGlyphNoClip(draw.GlyphStyle{Color: paper, Radius: 8, Shape: draw.CircleGlyph{}}, last)
			c.DrawGlyphNoClip(draw.GlyphStyle{Color: buoy, Radius: 7, Shape: draw.CircleGlyph{}}, last)
			c.FillText(number, vg.Point{X: last.X, Y: last.Y + 0.5}, fmt.Sprint(m))
		}
	}
}
