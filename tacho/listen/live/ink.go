package live

import (
	"image"
	"image/color"
	"math"

	stdfont "golang.org/x/image/font"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"

	"rotorhum/tacho/internal/hue"
)

// A screen has a palette of 256 colours: the heat map first, then each colour of
// text and lines in steps from paper to itself, for smooth edges.
const (
	heatSteps = 160
	edgeSteps = 16
)

// tint is one of the colours of text and lines.
type tint int

// The tints.
const (
	inkTint tint = iota
	slateTint
	tideTint
	buoyTint
	ruleTint
	paperTint // on a ground of buoy
)

var screenPalette = func() color.Palette {
	var p color.Palette
	for i := range heatSteps {
		p = append(p, hue.Heat[i*(len(hue.Heat)-1)/(heatSteps-1)])
	}
	for t, c := range []color.NRGBA{hue.Ink, hue.Slate, hue.Tide, hue.Buoy, hue.Rule, hue.Paper} {
		ground := hue.Paper
		if tint(t) == paperTint {
			ground = hue.Buoy
		}
		for i := range edgeSteps {
			f := float64(i) / (edgeSteps - 1)
			mix := func(a, b uint8) uint8 { return uint8(math.Round(float64(a) + f*(float64(b)-float64(a)))) }
			p = append(p, color.NRGBA{mix(ground.R, c.R), mix(ground.G, c.G), mix(ground.B, c.B), 0xff})
		}
	}
	return p
}()

// shadeOf is the place in the palette of tint t at strength 0 to 15.
func shadeOf(t tint, strength int) uint8 { return uint8(heatSteps + int(t)*edgeSteps + strength) }

// full is the place of the tint itself.
func full(t tint) uint8 { return shadeOf(t, edgeSteps-1) }

// paperShade is the place of the ground.
var paperShade = shadeOf(inkTint, 0)

// letter is one letter of one size: its strength, dot by dot, and how far the next
// one stands.
type letter struct {
	width, height int
	strength      []uint8 // 0 to 15
	advance       float64
}

// script is a size of type.
type script struct {
	size float64 // CSS pixels
	bold bool
}

// letters are drawn once.
type letters map[script]map[rune]*letter

// pad is the room around a letter, in dots.
const pad = 2

func (l letters) of(s script, r rune) *letter {
	if l[s] == nil {
		l[s] = map[rune]*letter{}
	}
	g := l[s][r]
	if g == nil {
		g = drawLetter(s, r)
		l[s][r] = g
	}
	return g
}

// drawLetter draws a letter with its base line at 3/4 of its height.
func drawLetter(s script, r rune) *letter {
	const px = vg.Inch / 96
	style := text.Style{
		Color:   color.Black,
		Font:    font.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Length(s.size) * px},
		XAlign:  text.XLeft,
		YAlign:  text.YBottom,
		Handler: plot.DefaultTextHandler,
	}
	if s.bold {
		style.Font.Weight = stdfont.WeightBold
	}
	advance := float64(style.Width(string(r)) / px)
	g := &letter{width: int(math.Ceil(advance)) + 2*pad, height: int(math.Ceil(1.4 * s.size)), advance: advance}
	c := vgimg.NewWith(vgimg.UseWH(vg.Length(g.width)*px, vg.Length(g.height)*px), vgimg.UseDPI(96), vgimg.UseBackgroundColor(color.White))
	base := g.height - int(0.75*float64(g.height))
	canvas := draw.New(c)
	canvas.FillText(style, vg.Point{X: pad * px, Y: vg.Length(base) * px}, string(r))
	img := c.Image()
	g.strength = make([]uint8, g.width*g.height)
	for y := range g.height {
		for x := range g.width {
			v := color.GrayModel.Convert(img.At(img.Bounds().Min.X+x, img.Bounds().Min.Y+y)).(color.Gray).Y
			g.strength[y*g.width+x] = uint8((255 - int(v)) * (edgeSteps - 1) / 255)
		}
	}
	return g
}

// board is a picture that is drawn on.
type board struct {
	*image.Paletted
	letters letters
}

// fill fills the dots from x0, y0 up to but without x1, y1.
func (b *board) fill(x0, y0, x1, y1 int, shade uint8) {
	r := image.Rect(x0, y0, x1, y1).Intersect(b.Rect)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		row := b.Pix[y*b.Stride+r.Min.X : y*b.Stride+r.Max.X]
		for i := range row {
			row[i] = shade
		}
	}
}

// width returns the width of words.
func (b *board) width(s script, words string) float64 {
	w := 0.0
	for _, r := range words {
		w += b.letters.of(s, r).advance
	}
	return w
}

// write writes words with their base line at y, from x on.
func (b *board) write(s script, t tint, x float64, y int, words string) {
	for _, r := range words {
		g := b.letters.of(s, r)
		left, top := int(math.Round(x))-pad, y-int(0.75*float64(g.height))
		for j := range g.height {
			for i := range g.width {
				if v := int(g.strength[j*g.width+i]); v > 0 && image.Pt(left+i, top+j).In(b.Rect) {
					p := &b.Pix[(top+j)*b.Stride+left+i]
					// where letters overlap the stronger counts
					if old := int(*p) - int(shadeOf(t, 0)); old < 0 || old >= edgeSteps || v > old {
						*p = shadeOf(t, v)
					}
				}
			}
		}
		x += g.advance
	}
}

// writeRight writes words so that they end at x.
func (b *board) writeRight(s script, t tint, x float64, y int, words string) {
	b.write(s, t, x-b.width(s, words), y, words)
}
