package live

import (
	"bytes"
	"fmt"
	"image/png"
	"math"
	"strings"

	"rotorhum/tacho"
)

// The sizes of type of a screen, in CSS pixels: to be read from the last row.
var (
	huge   = script{46, true}
	large  = script{24, true}
	medium = script{17, false}
	strong = script{17, true}
	small  = script{14, false}
	tiny   = script{11, true}
)

// The places of a screen, in CSS pixels.
const (
	leftRoom, topRoom, bottomRoom = 62, 16, 46
	panelRoom                     = 292
	// lineCount is the number of lines of the rotor that are drawn.
	lineCount = 4
)

// sized returns a size of type, as large as the picture asks for.
func (s *Screen) sized(t script) script { return script{t.size * s.scale, t.bold} }

// dots returns a length at the usual size in dots of this picture.
func (s *Screen) dots(n float64) int { return int(math.Round(n * s.scale)) }

// encoder writes pictures that are seen for a twentieth of a second.
var encoder = png.Encoder{CompressionLevel: png.BestSpeed}

// PNG returns the picture, of one dot to the CSS pixel.
func (s *Screen) PNG() ([]byte, error) {
	b := s.board
	b.fill(0, 0, s.view.Width, s.view.Height, paperShade)
	s.drawSound(s.dots(leftRoom), s.dots(topRoom), s.view.Width-s.dots(panelRoom), s.view.Height-s.dots(bottomRoom))
	s.drawPanel(s.view.Width-s.dots(panelRoom-26), s.view.Width-s.dots(16))
	var out bytes.Buffer
	err := encoder.Encode(&out, b)
	return out.Bytes(), err
}

// drawSound draws the spectrogram, the newest sound at the right edge.
func (s *Screen) drawSound(x0, y0, x1, y1 int) {
	b := s.board
	b.fill(x0, y0, x1, y1, 0)
	wide, high := float64(x1-x0), y1-y0
	per := wide / float64(s.room)
	place := func(i int) (from, to int) { // of column i, the newest being the last
		k := float64(len(s.columns) - i)
		return x1 - int(math.Round(k*per)), x1 - int(math.Round((k-1)*per))
	}
	for i := range s.columns {
		c := &s.columns[i]
		s.shade(c, high)
		from, to := place(i)
		for y, shade := range c.shade {
			b.fill(from, y1-1-y, to, y1-y, shade)
		}
	}
	// axes
	for _, f := range ticks(s.top, 5) {
		y := y1 - int(f/s.top*float64(high))
		b.fill(x0-s.dots(5), y, x0, y+1, full(slateTint))
		b.writeRight(s.sized(small), slateTint, float64(x0-s.dots(9)), y+s.dots(5), fmt.Sprintf("%g", f))
	}
	b.write(s.sized(small), slateTint, s.scale*6, y0+s.dots(8), "Hz")
	b.fill(x0-1, y0, x0, y1, full(slateTint))
	b.fill(x0-1, y1, x1, y1+1, full(slateTint))
	for _, t := range ticks(s.view.Seconds, 5) {
		x := x1 - int(t/s.view.Seconds*wide)
		b.fill(x, y1, x+1, y1+s.dots(5), full(slateTint))
		words := fmt.Sprintf("−%g s", t)
		if t == 0 {
			words = "now"
		}
		b.write(s.sized(small), slateTint, float64(x)-b.width(s.sized(small), words)/2, y1+s.dots(20), words)
	}
	// the rotor's lines: the first whole, its multiples dotted
	thick := s.dots(1)
	for m := 1; m <= lineCount; m++ {
		last, seen := 0, false
		for i, c := range s.columns {
			f := float64(m) * c.hz
			if c.hz == 0 || f >= s.top {
				continue
			}
			from, to := place(i)
			y := y1 - 1 - int(f/s.top*float64(high))
			next := y
			if i > 0 && s.columns[i-1].hz > 0 && m == 1 { // joined to the one before
				next = y1 - 1 - int(float64(m)*s.columns[i-1].hz/s.top*float64(high))
			}
			if m > 1 && i%3 != 0 {
				continue
			}
			lo, hi := max(y0, min(y, next)), max(y, next)
			b.fill(from, max(y0, lo-1-thick), to, hi+2+thick, paperShade)
			b.fill(from, max(y0, lo-thick), to, hi+1+thick, full(buoyTint))
			if i >= len(s.columns)-3 {
				last, seen = y, true
			}
		}
		if seen {
			r := s.dots(9)
			y := min(max(last, y0+r), y1-r)
			b.fill(x1-s.dots(4)-2*r, y-r, x1-s.dots(4), y+r+1, full(buoyTint))
			words := fmt.Sprint(m)
			b.write(s.sized(tiny), paperTint, float64(x1-s.dots(13))-b.width(s.sized(tiny), words)/2, y+s.dots(4), words)
		}
	}
}

// ticks returns round numbers from 0 to top, about count of them.
func ticks(top float64, count int) []float64 {
	step := math.Pow(10, math.Floor(math.Log10(top/float64(count))))
	for _, k := range []float64{1, 2, 5, 10} {
		if top/(k*step) <= float64(count)+0.5 {
			step *= k
			break
		}
	}
	var out []float64
	for i := 0; float64(i)*step <= top*1.0001; i++ {
		out = append(out, float64(i)*step)
	}
	return out
}

// drawPanel draws the numbers and the level between x0 and x1.
func (s *Screen) drawPanel(x0, x1 int) {
	b, left := s.board, float64(x0)
	unit := math.Min(1, float64(s.view.Height)/s.scale/160-2) // 0 to 1 at the usual size
	y := s.dots(18)
	down := func(n float64) int { y += s.dots(n); return y }
	b.write(s.sized(small), slateTint, left, y, fmt.Sprintf("now, at %.1f s", s.now.At))
	if s.now.Heard {
		number, name := split(s.now.Speed)
		b.write(s.sized(huge), inkTint, left, down(44+4*unit), number)
		b.write(s.sized(large), inkTint, left+b.width(s.sized(huge), number)+8*s.scale, y, name)
		b.write(s.sized(medium), inkTint, left, down(22+4*unit), "95 %: "+s.now.Speed.Between())
		b.write(s.sized(large), inkTint, left, down(26+6*unit), s.now.RPM().Rounded())
		b.write(s.sized(medium), inkTint, left, down(20+4*unit), "95 %: "+s.now.RPM().Between())
	} else {
		b.write(s.sized(large), slateTint, left, down(40+4*unit), "not heard")
		for i, line := range b.lines(s.sized(medium), s.now.Why, float64(x1-x0)) {
			b.write(s.sized(medium), slateTint, left, y+s.dots(float64(24+21*i)), line)
		}
		down(72 + 14*unit)
	}
	b.fill(x0, down(14+4*unit), x1, y+1, full(ruleTint))
	b.write(s.sized(small), slateTint, left, down(20+4*unit), "highest so far")
	if h := s.now.Highest; h != nil {
		b.write(s.sized(large), buoyTint, left, down(28+2*unit), h.Speed.Rounded())
		b.write(s.sized(medium), inkTint, left, down(20+3*unit), "95 %: "+h.Speed.Between())
		b.write(s.sized(medium), inkTint, left, down(20+3*unit), fmt.Sprintf("%s at %.2f s", h.Speed.Scale(60, "rpm").Rounded(), h.T))
	} else {
		b.write(s.sized(large), slateTint, left, down(28+2*unit), "none yet")
		down(40 + 6*unit)
	}
	b.fill(x0, down(14+4*unit), x1, y+1, full(ruleTint))
	s.drawLevel(x0, x1, down(20+4*unit))
	s.drawCaution(x0, x1, y+s.dots(84))
}

// caution is what whoever looks at the picture should not forget while it spins;
// tacho.Cautions has it in full, with sources.
const caution = "Stand out of the plane of what spins. Eye protection for everybody. Keep air jets off skin, eyes and ears."

// drawCaution writes the caution at the foot, where there is room below y.
func (s *Screen) drawCaution(x0, x1, y int) {
	height := s.dots(17)
	lines := s.board.lines(s.sized(small), caution, float64(x1-x0))
	top := s.view.Height - s.dots(10) - height*(len(lines)-1)
	if top < y {
		return
	}
	for i, line := range lines {
		s.board.write(s.sized(small), slateTint, float64(x0), top+height*i, line)
	}
}

// split parts a value into number and unit.
func split(v tacho.Value) (number, unit string) {
	words := v.Rounded()
	if n := len(words) - len(v.Unit) - 1; n > 0 && words[n+1:] == v.Unit {
		return words[:n], v.Unit
	}
	return words, ""
}

// quietest is the left end of the level meter in dB.
const quietest = -60.0

// drawLevel draws the level meter with its words at y.
func (s *Screen) drawLevel(x0, x1, y int) {
	b := s.board
	b.write(s.sized(small), slateTint, float64(x0), y, "level")
	b.writeRight(s.sized(small), slateTint, float64(x1), y, levelText(s.now.Level))
	at := func(db float64) int {
		f := math.Min(1, math.Max(0, 1-db/quietest))
		return x0 + int(f*float64(x1-x0))
	}
	top, foot := y+s.dots(9), y+s.dots(25)
	b.fill(x0, top, x1, foot, full(ruleTint))
	bar := full(tideTint)
	if s.clipped > 0 {
		bar = full(buoyTint)
	}
	b.fill(x0, top, at(s.now.Level), foot, bar)
	if p := at(s.peak); p > x0 {
		b.fill(p-s.dots(3), top-s.dots(3), p, foot+s.dots(3), full(inkTint))
	}
	for _, db := range []float64{-60, -40, -20, 0} {
		x := at(db)
		words := levelText(db)
		if db != 0 {
			words = words[:len(words)-len(" dB")]
		}
		w := b.width(s.sized(small), words)
		b.write(s.sized(small), slateTint, math.Min(math.Max(float64(x)-w/2, float64(x0)), float64(x1)-w), foot+s.dots(18), words)
	}
	if s.clipped > 0 {
		// in words as well as in colour
		b.fill(x0, foot+s.dots(26), x1, foot+s.dots(52), full(buoyTint))
		b.write(s.sized(strong), paperTint, float64(x0)+8*s.scale, foot+s.dots(45), "CLIPPED: turn the gain down")
	}
}

// lines breaks words into lines no wider than wide.
func (b *board) lines(s script, words string, wide float64) []string {
	var out []string
	line := ""
	for _, w := range strings.Fields(words) {
		if line != "" && b.width(s, line+" "+w) > wide {
			out = append(out, line)
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += w
	}
	if line != "" {
		out = append(out, line)
	}
	return out
}
