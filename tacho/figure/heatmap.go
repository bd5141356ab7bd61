package figure

import (
	"image"
	"math"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rotorhum/tacho/internal/rank"

	"rotorhum/tacho/internal/hue"
)

// heatmap is a picture of levels in dB, row 0 at the top.
type heatmap struct {
	width, height int
	level         []float64 // row by row; minus infinity for nothing at all
	lo, hi        float64   // the levels of the quietest and loudest colour
}

// quietShare is the share of the picture that the quietest colours take: the
// noise is to be seen and not to be looked at.
const quietShare = 0.6

// setRange chooses the colours: the loudest level to the last, and the level
// below which quietShare of the picture lies near the first, in steps of 5 dB.
// It reports false if there is no level at all.
func (h *heatmap) setRange() bool {
	var sounding []float64
	for _, d := range h.level {
		if !math.IsInf(d, -1) {
			sounding = append(sounding, d)
		}
	}
	if len(sounding) == 0 {
		return false
	}
	h.hi = 5 * math.Ceil(quantile(sounding, 1)/5)
	h.lo = 5 * math.Floor(quantile(sounding, quietShare)/5)
	h.lo = math.Min(math.Max(h.lo, h.hi-90), h.hi-30)
	return true
}

// image returns the picture as pixels, a byte each.
func (h *heatmap) image() image.Image {
	img := image.NewPaletted(image.Rect(0, 0, h.width, h.height), hue.Heat)
	for i, d := range h.level {
		img.Pix[i] = hue.Shade((d - h.lo) / (h.hi - h.lo))
	}
	return img
}

// barRoom is the width that the scale of colours needs.
const barRoom = 10 + 11 + 6 + 32 + 14

// bar draws the scale of colours to the right of the data.
func (h *heatmap) bar(data draw.Canvas, label string) {
	left := data.Max.X + 10
	const width = 11
	height := data.Max.Y - data.Min.Y
	strip := &heatmap{width: 1, height: 256, lo: 0, hi: 255}
	for i := range strip.height {
		strip.level = append(strip.level, float64(255-i))
	}
	data.DrawImage(vg.Rectangle{Min: vg.Point{X: left, Y: data.Min.Y}, Max: vg.Point{X: left + width, Y: data.Max.Y}}, strip.image())
	line := draw.LineStyle{Color: slate, Width: 0.6}
	data.StrokeLines(line, []vg.Point{{X: left, Y: data.Min.Y}, {X: left + width, Y: data.Min.Y}, {X: left + width, Y: data.Max.Y}, {X: left, Y: data.Max.Y}, {X: left, Y: data.Min.Y}})
	style := aligned(words(tickSize, slate), text.XLeft, text.YCenter)
	for _, t := range labelled((scaleTicks{want: 5}).Ticks(h.lo, h.hi)) {
		at := data.Min.Y + height*vg.Length((t.Value-h.lo)/(h.hi-h.lo))
		data.StrokeLine2(line, left+width, at, left+width+3, at)
		data.FillText(style, vg.Point{X: left + width + 5, Y: at + 0.8}, t.Label)
	}
	uprightLabel(data, left+width+5+24, label)
}

// quantile returns the q-quantile of x, whose order it changes.
func quantile(x []float64, q float64) float64 {
	return rank.Select(x, int(q*float64(len(x)-1)+0.5))
}
