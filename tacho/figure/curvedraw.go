package figure

import (
	"image/color"
	"math"
	"sort"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// curveStyle is how a curve looks: neighbours differ in colour, in dash and in
// marker.
type curveStyle struct {
	ink, tint color.NRGBA
	dashes    []vg.Length
	marker    draw.GlyphDrawer
	width     vg.Length
}

var curveStyles = [...]curveStyle{
	{tide, mist, nil, draw.CircleGlyph{}, 1.3},
	{buoy, color.NRGBA{0xf7, 0xd9, 0xcb, 0xff}, []vg.Length{6, 2.5}, draw.BoxGlyph{}, 1.4},
	{color.NRGBA{0x4d, 0x2a, 0x7c, 0xff}, color.NRGBA{0xdc, 0xd3, 0xe8, 0xff}, []vg.Length{1.6, 2}, draw.PyramidGlyph{}, 1.6},
	{color.NRGBA{0x7d, 0x62, 0x00, 0xff}, color.NRGBA{0xe8, 0xe0, 0xc4, 0xff}, []vg.Length{8, 2.5, 1.6, 2.5}, draw.RingGlyph{}, 1.4},
	{color.NRGBA{0x2a, 0x6b, 0x3d, 0xff}, color.NRGBA{0xd0, 0xe4, 0xd5, 0xff}, []vg.Length{3, 3}, draw.CrossGlyph{}, 1.4},
	{ink, rule, []vg.Length{12, 3}, draw.TriangleGlyph{}, 1.2},
}

// styleOf returns the style of the i-th curve.
func styleOf(i int) curveStyle { return curveStyles[i%len(curveStyles)] }

func (s curveStyle) line() draw.LineStyle {
	return draw.LineStyle{Color: s.ink, Width: s.width, Dashes: s.dashes}
}

func (s curveStyle) glyph(r vg.Length) draw.GlyphStyle {
	return draw.GlyphStyle{Color: s.ink, Radius: r, Shape: s.marker}
}

// drawer returns what draws the curve between the axes.
func (c Curve) drawer(s curveStyle, toX, toY func(float64) float64) func(draw.Canvas, *plot.Plot) {
	return func(cv draw.Canvas, p *plot.Plot) {
		x, y := p.Transforms(&cv)
		far := p.Y.Max - p.Y.Min // what lies further out is cut in any case
		at := func(px, py float64) vg.Point {
			return vg.Point{X: x(toX(px)), Y: y(math.Max(toY(py), p.Y.Min-far))}
		}
		pts := make([]vg.Point, len(c.x))
		for i := range pts {
			pts[i] = at(c.x[i], c.y[i])
		}
		inView := 0
		for _, pt := range pts {
			if cv.ContainsX(pt.X) {
				inView++
			}
		}
		switch c.kind {
		case lineCurve:
			if c.lo != nil {
				upper, lower := make([]vg.Point, len(pts)), make([]vg.Point, len(pts))
				for i := range pts {
					upper[i], lower[i] = at(c.x[i], c.hi[i]), at(c.x[i], c.lo[i])
				}
				fillPieces(cv, s.tint, upper, lower)
			}
			strokeDashed(cv, s.line(), thinnedLine(pts, cv))
		case dotsCurve:
			c.drawBars95(cv, s, at, pts)
			for _, pt := range pts {
				cv.DrawGlyph(s.glyph(dotRadius(inView)), pt)
			}
		case stemsCurve:
			ground := at(0, 0).Y
			ground = max(cv.Min.Y, min(cv.Max.Y, ground))
			for _, pt := range pts {
				if cv.ContainsX(pt.X) {
					cv.StrokeLines(draw.LineStyle{Color: s.ink, Width: 1}, cv.ClipLinesXY([]vg.Point{{X: pt.X, Y: ground}, pt})...)
				}
				cv.DrawGlyph(s.glyph(dotRadius(inView)), pt)
			}
		case barsCurve:
			ground := max(cv.Min.Y, min(cv.Max.Y, at(0, 0).Y))
			half := c.barWidth() / 2 * 0.92
			for i, pt := range pts {
				l, r := x(toX(c.x[i]-half)), x(toX(c.x[i]+half))
				bar := []vg.Point{{X: l, Y: ground}, {X: l, Y: pt.Y}, {X: r, Y: pt.Y}, {X: r, Y: ground}}
				cv.FillPolygon(s.tint, cv.ClipPolygonXY(bar))
				cv.StrokeLines(draw.LineStyle{Color: s.ink, Width: 1}, cv.ClipLinesXY(bar)...)
			}
		}
	}
}

// drawBars95 draws the intervals of dots as bars with short ends.
func (c Curve) drawBars95(cv draw.Canvas, s curveStyle, at func(x, y float64) vg.Point, pts []vg.Point) {
	if c.lo == nil {
		return
	}
	const cap = 3
	style := draw.LineStyle{Color: s.ink, Width: 1.1}
	for i, pt := range pts {
		if !cv.ContainsX(pt.X) {
			continue
		}
		lo, hi := at(c.x[i], c.lo[i]), at(c.x[i], c.hi[i])
		for _, l := range [][]vg.Point{{lo, hi}, {{X: lo.X - cap, Y: lo.Y}, {X: lo.X + cap, Y: lo.Y}}, {{X: hi.X - cap, Y: hi.Y}, {X: hi.X + cap, Y: hi.Y}}} {
			cv.StrokeLines(style, cv.ClipLinesXY(l)...)
		}
	}
}

// dotRadius returns the size of n markers: many are small.
func dotRadius(n int) vg.Length {
	switch {
	case n > 400:
		return 1.4
	case n > 80:
		return 2.1
	}
	return 3
}

// thinnedLine returns a line with at most four points to a column of a third of
// a pixel: its first, lowest, highest and last. Lines that run back are kept.
func thinnedLine(pts []vg.Point, c draw.Canvas) []vg.Point {
	const column = pixel / 3
	if len(pts) < 4*int((c.Max.X-c.Min.X)/column) || !sort.SliceIsSorted(pts, func(i, j int) bool { return pts[i].X < pts[j].X }) {
		return pts
	}
	var out []vg.Point
	for i := 0; i < len(pts); {
		col := math.Floor(float64(pts[i].X / column))
		j, low, high := i, i, i
		for ; j < len(pts) && math.Floor(float64(pts[j].X/column)) == col; j++ {
			if pts[j].Y < pts[low].Y {
				low = j
			}
			if pts[j].Y > pts[high].Y {
				high = j
			}
		}
		keep := []int{i, low, high, j - 1}
		sort.Ints(keep)
		for k, at := range keep {
			if k == 0 || at != keep[k-1] {
				out = append(out, pts[at])
			}
		}
		i = j
	}
	return out
}

// strokeDashed is strokePieces for a style with dashes, which run on from piece
// to piece.
func strokeDashed(c draw.Canvas, style draw.LineStyle, line []vg.Point) {
	if len(style.Dashes) == 0 {
		strokePieces(c, style, line)
		return
	}
	for from := 0; from < len(line)-1; from += pieceLen {
		piece := line[from:min(from+pieceLen+1, len(line))]
		c.StrokeLines(style, c.ClipLinesXY(piece)...)
		for i := 1; i < len(piece); i++ {
			style.DashOffs += vg.Length(math.Hypot(float64(piece[i].X-piece[i-1].X), float64(piece[i].Y-piece[i-1].Y)))
		}
	}
}

// rulesDrawer returns what draws the rules among the curves, with their words
// where they do not run over one another.
func rulesDrawer(curves []Curve, toX, toY func(float64) float64) func(draw.Canvas, *plot.Plot) {
	return func(c draw.Canvas, p *plot.Plot) {
		x, y := p.Transforms(&c)
		style := draw.LineStyle{Color: slate, Width: 1.1, Dashes: []vg.Length{4, 3}}
		label := words(labelSize, ink)
		type span struct{ lo, hi vg.Length }
		var rows [][]span // taken, from the top
		for _, r := range curves {
			switch r.kind {
			case ruleXCurve:
				at := x(toX(r.x[0]))
				if !c.ContainsX(at) {
					continue
				}
				c.StrokeLine2(style, at, c.Min.Y, at, c.Max.Y)
				w := label.Width(r.name)
				s := span{at + 4, at + 4 + w}
				if s.hi > c.Max.X {
					s = span{at - 4 - w, at - 4}
				}
				row := 0
				for ; row < len(rows); row++ {
					clear := true
					for _, t := range rows[row] {
						clear = clear && (s.lo > t.hi+4 || s.hi < t.lo-4)
					}
					if clear {
						break
					}
				}
				if row == len(rows) {
					rows = append(rows, nil)
				}
				rows[row] = append(rows[row], s)
				paperLabel(c, aligned(label, text.XLeft, text.YTop), vg.Point{X: s.lo, Y: c.Max.Y - 3 - vg.Length(row)*labelSize*1.25}, r.name)
			case ruleYCurve:
				at := y(toY(r.y[0]))
				if !c.ContainsY(at) {
					continue
				}
				c.StrokeLine2(style, c.Min.X, at, c.Max.X, at)
				w := label.Width(r.name)
				if at+labelSize*1.4 > c.Max.Y {
					paperLabel(c, aligned(label, text.XLeft, text.YTop), vg.Point{X: c.Max.X - 4 - w, Y: at - 2}, r.name)
				} else {
					paperLabel(c, label, vg.Point{X: c.Max.X - 4 - w, Y: at + 2}, r.name)
				}
			}
		}
	}
}

// paperLabel writes words on a light ground, so that they stay legible over a
// curve.
func paperLabel(c draw.Canvas, style text.Style, at vg.Point, words string) {
	if words == "" {
		return
	}
	box := style.Rectangle(words).Add(at)
	c.SetColor(casing)
	c.Fill(vg.Rectangle{Min: vg.Point{X: box.Min.X - 2, Y: box.Min.Y}, Max: vg.Point{X: box.Max.X + 2, Y: box.Max.Y}}.Path())
	c.FillText(style, at, words)
}

// keyEntry is one curve in the key above a plot.
type keyEntry struct {
	name   string
	style  curveStyle
	kind   curveKind
	banded bool
}

// Sizes of the key.
const (
	keySwatch = vg.Length(24)
	keyGap    = vg.Length(16)
	keyRow    = labelSize * 1.5
)

// drawKey draws the key from the top left of c and returns how high it is. Where
// it is too long for one row it goes on in the next.
func drawKey(c draw.Canvas, key []keyEntry) vg.Length {
	if len(key) == 0 {
		return 0
	}
	style := aligned(words(labelSize, ink), text.XLeft, text.YCenter)
	x, y := c.Min.X, c.Max.Y-keyRow/2
	for _, k := range key {
		name := fitted(style, k.name, c.Max.X-c.Min.X-keySwatch-5)
		w := keySwatch + 5 + style.Width(name)
		if x > c.Min.X && x+w > c.Max.X {
			x, y = c.Min.X, y-keyRow
		}
		k.draw(c, x, y)
		c.FillText(style, vg.Point{X: x + keySwatch + 5, Y: y}, name)
		x += w + keyGap
	}
	return c.Max.Y - y + keyRow/2
}

// draw draws a sample of the curve, from x to the right, centred on y.
func (k keyEntry) draw(c draw.Canvas, x, y vg.Length) {
	middle := vg.Point{X: x + keySwatch/2, Y: y}
	switch k.kind {
	case lineCurve:
		if k.banded {
			c.FillPolygon(k.style.tint, []vg.Point{{X: x, Y: y - 4}, {X: x, Y: y + 4}, {X: x + keySwatch, Y: y + 4}, {X: x + keySwatch, Y: y - 4}})
		}
		c.StrokeLine2(k.style.line(), x, y, x+keySwatch, y)
	case stemsCurve:
		c.StrokeLine2(draw.LineStyle{Color: k.style.ink, Width: 1}, middle.X, y-5, middle.X, y+2)
		c.DrawGlyph(k.style.glyph(3), vg.Point{X: middle.X, Y: y + 2})
	case barsCurve:
		bar := []vg.Point{{X: middle.X - 5, Y: y - 5}, {X: middle.X - 5, Y: y + 4}, {X: middle.X + 5, Y: y + 4}, {X: middle.X + 5, Y: y - 5}}
		c.FillPolygon(k.style.tint, bar)
		c.StrokeLines(draw.LineStyle{Color: k.style.ink, Width: 1}, bar)
	default:
		if k.banded {
			c.StrokeLine2(draw.LineStyle{Color: k.style.ink, Width: 1.1}, middle.X, y-6, middle.X, y+6)
		}
		c.DrawGlyph(k.style.glyph(3), middle)
	}
}
