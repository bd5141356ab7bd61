// Package hue holds the colours of all pictures.
package hue

import (
	"image/color"
	"math"
)

// The colours of all pictures. Tide and Buoy stay apart for every common kind
// of colour blindness: they differ in lightness as well as along the
// blue-yellow axis, which red-green blindness leaves alone.
var (
	Paper  = color.NRGBA{0xff, 0xff, 0xff, 0xff}
	Ink    = color.NRGBA{0x1c, 0x25, 0x2e, 0xff} // text
	Slate  = color.NRGBA{0x58, 0x64, 0x70, 0xff} // secondary text, axes
	Rule   = color.NRGBA{0xe1, 0xe6, 0xea, 0xff} // grid
	Tide   = color.NRGBA{0x0b, 0x5a, 0x78, 0xff} // the data
	Shoal  = color.NRGBA{0x0b, 0x5a, 0x78, 0x3c} // the data's 95 % band
	Mist   = color.NRGBA{0xc6, 0xd8, 0xdf, 0xff} // the same on paper, opaque
	Buoy   = color.NRGBA{0xd0, 0x48, 0x12, 0xff} // what is claimed: peak, family
	Casing = color.NRGBA{0xff, 0xff, 0xff, 0xd8} // light edge under a line on a dark ground
)

// OKLCh returns the colour of lightness l (0 to 1), chroma c and hue h in
// degrees in the OKLCh space, clipped to what a screen shows.
//
// Source: B. Ottosson, "A perceptual color space for image processing", 2020.
func OKLCh(l, c, h float64) color.NRGBA {
	sin, cos := math.Sincos(h * math.Pi / 180)
	a, b := c*cos, c*sin
	lp := l + 0.3963377774*a + 0.2158037573*b
	mp := l - 0.1055613458*a - 0.0638541728*b
	sp := l - 0.0894841775*a - 1.2914855480*b
	lc, mc, sc := lp*lp*lp, mp*mp*mp, sp*sp*sp
	return color.NRGBA{
		R: companded(+4.0767416621*lc - 3.3077115913*mc + 0.2309699292*sc),
		G: companded(-1.2684380046*lc + 2.6097574011*mc - 0.3413193965*sc),
		B: companded(-0.0041960863*lc - 0.7034186147*mc + 1.7076147010*sc),
		A: 0xff,
	}
}

// companded returns the 8-bit sRGB code of a linear light level (IEC
// 61966-2-1).
func companded(x float64) uint8 {
	switch {
	case x <= 0:
		return 0
	case x >= 1:
		return 255
	case x <= 0.0031308:
		x *= 12.92
	default:
		x = 1.055*math.Pow(x, 1/2.4) - 0.055
	}
	return uint8(x*255 + 0.5)
}

// Heat holds the colours of a heat map from quiet (paper, bright) to loud
// (deep indigo). Lightness falls in equal steps, so equal steps of level look
// equal, in print and to a colour-blind eye too; hue only helps to tell the
// steps apart.
var Heat = func() color.Palette {
	p := make(color.Palette, 256)
	for i := range p {
		t := float64(i) / float64(len(p)-1)
		l := 0.985 - 0.765*t
		c := 0.012 + 0.115*math.Sin(math.Pi*math.Pow(t, 0.8))*(1-0.25*t) + 0.05*t
		h := 100 + 182*math.Pow(t, 0.85)
		p[i] = OKLCh(l, c, h)
	}
	return p
}()

// Shade returns the place in Heat of level t, from 0 (quiet) to 1 (loud).
func Shade(t float64) uint8 {
	return uint8(math.Min(math.Max(t, 0), 1)*255 + 0.5)
}
