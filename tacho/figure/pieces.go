package figure

import (
	"image/color"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// pieceLen is how many points of a long path are drawn at once. The rasteriser
// keeps the crossings of each row of dots in a list that it searches from the
// left, so a path that crosses a row a thousand times costs a million steps,
// and pieces of it cost a thousandth each.
const pieceLen = 32

// strokePieces draws a long solid line piece by piece; neighbours share two
// points, so that no joint shows.
func strokePieces(c draw.Canvas, style draw.LineStyle, line []vg.Point) {
	for from := 0; from < len(line)-1; from += pieceLen {
		to := min(from+pieceLen+2, len(line))
		c.StrokeLines(style, c.ClipLinesXY(line[from:to])...)
	}
}

// fillPieces fills the band between two lines of as many points, piece by
// piece. Neighbours overlap, so the colour must be opaque.
func fillPieces(c draw.Canvas, fill color.Color, upper, lower []vg.Point) {
	for from := 0; from < len(upper)-1; from += pieceLen {
		to := min(from+pieceLen+2, len(upper))
		band := append([]vg.Point(nil), upper[from:to]...)
		for i := to - 1; i >= from; i-- {
			band = append(band, lower[i])
		}
		c.FillPolygon(fill, c.ClipPolygonXY(band))
	}
}
