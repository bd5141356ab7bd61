package figure

import (
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// rightAxis repeats the vertical axis of p at the right of the data in another
// unit: times is how many of it one unit of the left axis is.
func rightAxis(data draw.Canvas, p *plot.Plot, label string, times float64) {
	_, y := p.Transforms(&data)
	line := draw.LineStyle{Color: slate, Width: 0.6}
	style := aligned(words(tickSize, slate), text.XLeft, text.YCenter)
	var widest vg.Length
	for _, t := range (scaleTicks{want: 6, times: times}).Ticks(p.Y.Min, p.Y.Max) {
		at := y(t.Value)
		if at < data.Min.Y-0.01 || at > data.Max.Y+0.01 {
			continue
		}
		long := tickLen
		if t.Label == "" {
			long /= 2
		}
		data.StrokeLine2(line, data.Max.X, at, data.Max.X+long, at)
		if t.Label != "" {
			data.FillText(style, vg.Point{X: data.Max.X + tickLen + 3, Y: at + 0.8}, t.Label)
			widest = max(widest, style.Width(t.Label))
		}
	}
	data.StrokeLine2(draw.LineStyle{Color: slate, Width: 0.8}, data.Max.X, data.Min.Y, data.Max.X, data.Max.Y)
	uprightLabel(data, data.Max.X+tickLen+3+widest+5, label)
}

// rightAxisRoom returns the width that rightAxis needs over the range lo to hi
// of the left axis.
func rightAxisRoom(lo, hi float64, times float64) vg.Length {
	style := words(tickSize, slate)
	var widest vg.Length
	for _, t := range (scaleTicks{want: 6, times: times}).Ticks(lo, hi) {
		widest = max(widest, style.Width(t.Label))
	}
	return tickLen + 3 + widest + 5 + labelSize*1.3
}

// uprightLabel writes label along the right side of the data, read from below,
// its left edge at x.
func uprightLabel(data draw.Canvas, x vg.Length, label string) {
	style := aligned(words(labelSize, ink), text.XCenter, text.YTop)
	style.Rotation = -turn / 4
	data.FillText(style, vg.Point{X: x + labelSize*1.2, Y: data.Center().Y}, label)
}

// turn is a whole turn in radians.
const turn = 6.283185307179586
