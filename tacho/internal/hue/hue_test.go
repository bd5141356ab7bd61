package hue

import (
	"image/color"
	"math"
	"testing"
)

// luminance is the relative luminance of WCAG 2.1 (from IEC 61966-2-1), 0 to 1.
func luminance(r, g, b uint32) float64 {
	linear := func(c uint32) float64 {
		s := float64(c>>8) / 255
		if s <= 0.04045 {
			return s / 12.92
		}
		return math.Pow((s+0.055)/1.055, 2.4)
	}
	return 0.2126*linear(r) + 0.7152*linear(g) + 0.0722*linear(b)
}

func contrast(a, b color.NRGBA) float64 {
	ar, ag, ab, _ := color.NRGBA{a.R, a.G, a.B, 255}.RGBA()
	br, bg, bb, _ := color.NRGBA{b.R, b.G, b.B, 255}.RGBA()
	la, lb := luminance(ar, ag, ab), luminance(br, bg, bb)
	return (math.Max(la, lb) + 0.05) / (math.Min(la, lb) + 0.05)
}

// W3C, Web Content Accessibility Guidelines 2.1: text needs a contrast of 4.5
// (1.4.3), marks in pictures need 3 (1.4.11).
func TestContrast(t *testing.T) {
	for _, c := range []struct {
		name string
		a, b color.NRGBA
		want float64
	}{
		{"text", Ink, Paper, 4.5}, {"secondary text", Slate, Paper, 4.5}, {"number in a disc", Paper, Buoy, 4.5},
		{"line", Tide, Paper, 3}, {"marker", Buoy, Paper, 3},
	} {
		if got := contrast(c.a, c.b); got < c.want {
			t.Errorf("%s: contrast %.2f, want at least %g", c.name, got, c.want)
		}
	}
}

// Black on white has the contrast 21 in the guideline's own words.
func TestContrastFormula(t *testing.T) {
	if got := contrast(color.NRGBA{A: 255}, color.NRGBA{255, 255, 255, 255}); math.Abs(got-21) > 1e-9 {
		t.Errorf("contrast of black on white = %g, want 21", got)
	}
}

// Louder is always darker, by about the same step of lightness (CIE 1976 L*).
func TestInkScale(t *testing.T) {
	star := func(i int) float64 {
		r, g, b, _ := Heat[i].RGBA()
		y := luminance(r, g, b)
		if y > 216./24389 {
			return 116*math.Cbrt(y) - 16
		}
		return y * 24389 / 27
	}
	if top, bottom := star(0), star(255); top < 95 || bottom > 20 {
		t.Errorf("lightness runs from %.1f to %.1f, want from paper (over 95) to ink (under 20)", top, bottom)
	}
	// Sixteenths of the scale: between half and one and a half times the mean
	// step, since OKLab and L* agree only roughly and codes have 8 bits.
	mean := (star(0) - star(255)) / 15
	for i := 17; i < 256; i += 17 {
		if step := star(i-17) - star(i); step < 0.5*mean || step > 1.5*mean {
			t.Errorf("from shade %d to %d the lightness falls by %.2f, want about %.2f", i-17, i, step, mean)
		}
	}
}

// The white, the black and the primaries of sRGB in OKLab, as published by B.
// Ottosson (2020); a code may be off by one.
func TestOklch(t *testing.T) {
	polar := func(l, a, b float64) color.NRGBA {
		return OKLCh(l, math.Hypot(a, b), math.Atan2(b, a)*180/math.Pi)
	}
	for _, c := range []struct {
		name    string
		l, a, b float64
		want    color.NRGBA
	}{
		{"white", 1, 0, 0, color.NRGBA{255, 255, 255, 255}},
		{"black", 0, 0, 0, color.NRGBA{0, 0, 0, 255}},
		{"red", 0.62796, 0.22486, 0.12585, color.NRGBA{255, 0, 0, 255}},
		{"green", 0.86644, -0.23389, 0.17950, color.NRGBA{0, 255, 0, 255}},
		{"blue", 0.45201, -0.03246, -0.31153, color.NRGBA{0, 0, 255, 255}},
	} {
		got := polar(c.l, c.a, c.b)
		for i, p := range [][2]uint8{{got.R, c.want.R}, {got.G, c.want.G}, {got.B, c.want.B}} {
			if math.Abs(float64(p[0])-float64(p[1])) > 3 {
				t.Errorf("%s: channel %d is %d, want %d", c.name, i, p[0], p[1])
			}
		}
	}
}
