package figure

import (
	"fmt"
	"math"
	"path/filepath"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rotorhum/tacho"
)

// maxLanes is how many channels a waveform shows at most.
const maxLanes = 4

// Waveform draws the sound against time, one lane per channel (the first four
// of a recording with more). Where there are many samples to a pixel it shows
// the span between the lowest and the highest; where there are few, every
// sample as a dot. It reads the recording in blocks, whatever its length.
//
// It returns an error if the recording is nil or empty, if the view lies
// outside it, or if its file can no longer be read.
func Waveform(rec *tacho.Recording, view ...View) (*Picture, error) {
	if rec == nil || rec.Frames == 0 || rec.Channels == 0 {
		return nil, fmt.Errorf("figure: a waveform needs a recording: %w", tacho.ErrNoSamples)
	}
	lanes := min(rec.Channels, maxLanes)
	v, err := viewOf(view, 130+150*lanes)
	if err != nil {
		return nil, err
	}
	to := v.To
	if to == 0 {
		to = rec.Seconds()
	}
	from, end := int(math.Round(v.From*rec.Rate)), min(int(math.Round(to*rec.Rate)), rec.Frames)
	if from >= end {
		return nil, fmt.Errorf("figure: the recording of %g s has no samples between %g s and %g s", rec.Seconds(), v.From, to)
	}
	spans := make([][]span, lanes)
	largest := 0.0
	for ch := range spans {
		if spans[ch], err = spansOf(v, rec, ch, from, end); err != nil {
			return nil, fmt.Errorf("figure: %w", err)
		}
		for _, s := range spans[ch] {
			largest = math.Max(largest, math.Max(-s.lo, s.hi))
		}
	}
	reach := 1.08 * largest
	if reach == 0 {
		reach = 1
	}
	x := [2]float64{v.From, math.Max(float64(end)/rec.Rate, v.From+1/rec.Rate)}
	sh := sheet{title: v.Title, note: waveformNote(rec, lanes)}
	if sh.title == "" {
		sh.title = filepath.Base(rec.Name)
	}
	for ch := range spans {
		ylabel := "sound (full scale = 1)"
		if lanes > 1 {
			ylabel = fmt.Sprintf("channel %d", ch+1)
		}
		axes := newAxes("", ylabel, x, [2]float64{-reach, reach})
		axes.Y.Tick.Marker = scaleTicks{want: max(3, 6/lanes)}
		lane := spans[ch]
		axes.Add(plotterFunc(func(c draw.Canvas, p *plot.Plot) { drawWave(c, p, lane) }))
		sh.plots = append(sh.plots, axes)
	}
	sh.plots[lanes-1].X.Label.Text = "time (s)"
	alt := fmt.Sprintf("Waveform of %s from %.4g s to %.4g s, %s; the largest sample is %.3g of full scale.",
		rec.Name, x[0], x[1], channels(lanes), largest)
	return sh.picture(v, alt), nil
}

func waveformNote(rec *tacho.Recording, lanes int) string {
	note := fmt.Sprintf("%g Hz, %s", rec.Rate, channels(rec.Channels))
	if rec.Channels > lanes {
		note += fmt.Sprintf(", the first %d shown", lanes)
	}
	if rec.Channels > 1 {
		note += "; full scale = 1"
	}
	if rec.ClippedFraction > 0 {
		note += fmt.Sprintf("; %.2g %% of the samples clipped", 100*rec.ClippedFraction)
	}
	return note
}

func channels(n int) string {
	if n == 1 {
		return "one channel"
	}
	return fmt.Sprintf("%d channels", n)
}

// span is what happens between two moments: the lowest and the highest sample
// of a column, or both the same for a single sample.
type span struct{ t, lo, hi float64 }

// spansOf returns the samples of channel ch from frame from to end as spans: a
// span for each sample if there are few, else one for each of 1.5 columns per
// pixel of the view.
func spansOf(v View, rec *tacho.Recording, ch, from, end int) ([]span, error) {
	n := end - from
	columns := v.Width + v.Width/2
	if n <= 4*columns {
		columns = n
	}
	out := make([]span, columns)
	for i := range out {
		first, last := from+int(int64(i)*int64(n)/int64(columns)), from+int(int64(i+1)*int64(n)/int64(columns))
		out[i] = span{t: float64(first+last-1) / 2 / rec.Rate, lo: math.Inf(1), hi: math.Inf(-1)}
	}
	block := make([]float64, min(n, 1<<16))
	for done := 0; done < n; {
		if err := v.ended(); err != nil {
			return nil, err
		}
		got, err := rec.Block(ch, from+done, block[:min(len(block), n-done)])
		if err != nil {
			return nil, err
		}
		if got == 0 {
			return nil, fmt.Errorf("channel %d ends at frame %d of %d: %w", ch+1, from+done, end, tacho.ErrTooShort)
		}
		for j, s := range block[:got] {
			if !finite(s) {
				return nil, fmt.Errorf("channel %d, frame %d: %w", ch+1, from+done+j, tacho.ErrNotFinite)
			}
			o := &out[((int64(done+j)+1)*int64(columns)-1)/int64(n)]
			o.lo, o.hi = math.Min(o.lo, s), math.Max(o.hi, s)
		}
		done += got
	}
	return out, nil
}

// hairline is half the width that the thinnest part of a waveform keeps.
const hairline = vg.Length(0.3)

// drawWave draws the spans as a filled band or, where each is one sample, as a
// line with dots if there is room for them.
func drawWave(c draw.Canvas, p *plot.Plot, spans []span) {
	x, y := p.Transforms(&c)
	zero := draw.LineStyle{Color: slate, Width: 0.6}
	c.StrokeLine2(zero, c.Min.X, y(0), c.Max.X, y(0))
	upper := make([]vg.Point, len(spans))
	lower := make([]vg.Point, len(spans))
	single := true
	for i, s := range spans {
		upper[i] = vg.Point{X: x(s.t), Y: y(s.hi)}
		lower[i] = vg.Point{X: x(s.t), Y: y(s.lo)}
		single = single && s.lo == s.hi
	}
	if !single {
		// A quiet stretch is still a line, and a spike is still a dot wide.
		for i := range upper {
			upper[i].Y += hairline
			lower[i].Y -= hairline
		}
		fillPieces(c, tide, upper, lower)
		for i, s := range spans {
			if i > 0 && i+1 < len(spans) && (s.hi > spans[i-1].hi && s.hi > spans[i+1].hi || s.lo < spans[i-1].lo && s.lo < spans[i+1].lo) {
				c.StrokeLine2(draw.LineStyle{Color: tide, Width: 2 * hairline}, upper[i].X, lower[i].Y, upper[i].X, upper[i].Y)
			}
		}
		return
	}
	strokePieces(c, draw.LineStyle{Color: tide, Width: 1}, upper)
	if vg.Length(len(spans))*6 < c.Max.X-c.Min.X {
		for _, at := range upper {
			c.DrawGlyph(draw.GlyphStyle{Color: tide, Radius: 1.8, Shape: draw.CircleGlyph{}}, at)
		}
	}
}
