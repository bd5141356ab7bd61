package figure

import (
	"image/color"

	"golang.org/x/image/font"
	"gonum.org/v1/plot"
	plotfont "gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// sheet is the page that all pictures share: a title, a line of notes
// and a key at the top left, and below them one set of axes or several, one above the other.
type sheet struct {
	title, note string
	key         []keyEntry
	plots       []*plot.Plot
	// right is the room kept to the right of the data for what margin draws
	// there, beside the last plot: a second axis, a colour bar.
	right  vg.Length
	margin func(data draw.Canvas)
}

// Sizes of the sheet. Shown beside text of 16 pixels, at a width of 680, the
// letters are nearly as large as that text.
const (
	titleSize = vg.Length(14)
	labelSize = vg.Length(12)
	tickSize  = vg.Length(11.5)
	edge      = vg.Length(9) // white around everything
	tickLen   = vg.Length(4)
)

// words returns the style of text of the given size and colour, set from the
// point where it is drawn to the right, on the baseline.
func words(size vg.Length, c color.Color) text.Style {
	return text.Style{
		Color:   c,
		Font:    plotfont.Font{Typeface: "Liberation", Variant: "Sans", Size: size},
		XAlign:  text.XLeft,
		YAlign:  text.YBottom,
		Handler: plot.DefaultTextHandler,
	}
}

func bold(s text.Style) text.Style { s.Font.Weight = font.WeightBold; return s }

func aligned(s text.Style, x text.XAlignment, y text.YAlignment) text.Style {
	s.XAlign, s.YAlign = x, y
	return s
}

// newAxes returns axes over the given ranges, with a grid, to which the data
// are to be added.
func newAxes(xlabel, ylabel string, x, y [2]float64) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	p.X.Min, p.X.Max = x[0], x[1]
	p.Y.Min, p.Y.Max = y[0], y[1]
	p.X.Label.Text, p.Y.Label.Text = xlabel, ylabel
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Label.TextStyle.Font = words(labelSize, ink).Font
		a.Label.TextStyle.Color = ink
		a.Label.Padding = 4
		a.Tick.Label.Font = words(tickSize, slate).Font
		a.Tick.Label.Color = slate
		a.Tick.LineStyle = draw.LineStyle{Color: slate, Width: 0.6}
		a.Tick.Length = tickLen
		a.LineStyle = draw.LineStyle{Color: slate, Width: 0.8}
		a.Padding = 0
	}
	p.X.Tick.Marker = scaleTicks{want: 8}
	p.Y.Tick.Marker = scaleTicks{want: 6}
	p.Add(grid{})
	return p
}

// grid draws a thin line at each labelled tick.
type grid struct{}

func (grid) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	thin := draw.LineStyle{Color: rule, Width: 0.7}
	for _, t := range labelled(p.X.Tick.Marker.Ticks(p.X.Min, p.X.Max)) {
		if at := x(t.Value); at > c.Min.X+1 && c.ContainsX(at) {
			c.StrokeLine2(thin, at, c.Min.Y, at, c.Max.Y)
		}
	}
	for _, t := range labelled(p.Y.Tick.Marker.Ticks(p.Y.Min, p.Y.Max)) {
		if at := y(t.Value); at > c.Min.Y+1 && c.ContainsY(at) {
			c.StrokeLine2(thin, c.Min.X, at, c.Max.X, at)
		}
	}
}

// draw draws the sheet on the whole of c.
func (s sheet) draw(c draw.Canvas) {
	c.SetColor(paper)
	c.Fill(c.Rectangle.Path())
	c = draw.Crop(c, edge, -edge, edge, -edge)
	room := c.Max.X - c.Min.X
	top := c.Max.Y
	if s.title != "" {
		style := aligned(bold(words(titleSize, ink)), text.XLeft, text.YTop)
		c.FillText(style, vg.Point{X: c.Min.X, Y: top}, fitted(style, s.title, room))
		top -= titleSize * 1.35
	}
	if s.note != "" {
		style := aligned(words(labelSize, slate), text.XLeft, text.YTop)
		c.FillText(style, vg.Point{X: c.Min.X, Y: top}, fitted(style, s.note, room))
		top -= labelSize * 1.35
	}
	if len(s.key) > 0 {
		top -= 2
		top -= drawKey(draw.Crop(c, 0, 0, 0, top-c.Max.Y), s.key)
	}
	if s.title != "" || s.note != "" || len(s.key) > 0 {
		top -= 6
	}
	body := draw.Crop(c, 0, -s.right, 0, top-c.Max.Y)

	// All data areas get the same height; what the axes need comes on top.
	const gap = 6
	room = body.Max.Y - body.Min.Y - gap*vg.Length(len(s.plots)-1)
	frames := make([]vg.Length, len(s.plots))
	for i, p := range s.plots {
		data := p.DataCanvas(body)
		frames[i] = (body.Max.Y - body.Min.Y) - (data.Max.Y - data.Min.Y)
		room -= frames[i]
	}
	top = body.Max.Y
	for i, p := range s.plots {
		bottom := top - frames[i] - room/vg.Length(len(s.plots))
		part := draw.Canvas{Canvas: body.Canvas, Rectangle: vg.Rectangle{
			Min: vg.Point{X: body.Min.X, Y: bottom}, Max: vg.Point{X: body.Max.X, Y: top},
		}}
		p.Draw(part)
		if s.margin != nil && i == len(s.plots)-1 {
			s.margin(p.DataCanvas(part))
		}
		top = bottom - gap
	}
}

// fitted returns txt, shortened with an ellipsis where it is wider than room.
func fitted(style text.Style, txt string, room vg.Length) string {
	if style.Width(txt) <= room {
		return txt
	}
	r := []rune(txt)
	for len(r) > 1 && style.Width(string(r)+"…") > room {
		r = r[:len(r)-1]
	}
	return string(r) + "…"
}

// picture wraps the sheet up.
func (s sheet) picture(v View, alt string) *Picture {
	return &Picture{Alt: alt, width: v.Width, height: v.Height, draw: s.draw}
}

// plotterFunc draws data in the canvas between the axes.
type plotterFunc func(c draw.Canvas, p *plot.Plot)

// Plot calls f.
func (f plotterFunc) Plot(c draw.Canvas, p *plot.Plot) { f(c, p) }
