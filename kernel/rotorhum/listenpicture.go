package main

import (
	"fmt"
	"math"
	"strings"
)

// axisWidth is the room left of the picture for frequencies.
const axisWidth = 9

// shades are the colours of the picture from quiet to loud, in the palette of 256
// colours: lightness rises in even steps, hue only helps.
var shades = []int{233, 234, 17, 18, 24, 30, 36, 72, 108, 144, 180, 222, 230}

// shadeLetters are the same for terminals without colours.
const shadeLetters = " .,:;+*#@"

// The colours of the rotor's lines: the pulse rate, and its multiples.
const markColour, dimMarkColour = 208, 172

// picture draws the sound of the last seconds: time to the right, frequency
// upwards, and the lines of the rotor over it.
func (v *listenFrame) picture(width, height int) []string {
	w := width - axisWidth - 1
	rows := height - 1 // the last line is the time axis
	cells := rows
	if v.colours {
		cells = 2 * rows // two to a character
	}
	grid := make([][]cellShade, cells) // from the top
	for i := range grid {
		grid[i] = make([]cellShade, w)
	}
	first := len(v.columns) - w
	for x := range w {
		if first+x >= 0 {
			v.drawColumn(grid, x, v.columns[first+x])
		}
	}
	var out []string
	step := tickStep(v.top, rows)
	for y := range rows {
		label, sign := "", " │"
		// the highest tick in the row of frequencies from lo to below hi
		lo, hi := v.top*float64(rows-1-y)/float64(rows), v.top*float64(rows-y)/float64(rows)
		if tick := step * math.Ceil(lo/step); tick < hi && tick > 0 {
			label, sign = hertzWords(tick), " ┤"
		}
		line := v.styled(styleDim, fmt.Sprintf("%*s", axisWidth-2, label)+sign)
		if v.colours {
			line += colourRow(grid[2*y], grid[2*y+1])
		} else {
			line += letterRow(grid[y])
		}
		out = append(out, line)
	}
	return append(out, v.styled(styleDim, v.timeAxis(w)))
}

// tickStep is the spacing of labels on the frequency axis: 1, 2 or 5 times a power
// of ten, for a label in every third row or fewer.
func tickStep(top float64, rows int) float64 {
	least := 3 * top / float64(rows)
	step := math.Pow(10, math.Floor(math.Log10(least)))
	for _, k := range []float64{1, 2, 5} {
		if k*step >= least {
			return k * step
		}
	}
	return 10 * step
}

func hertzWords(f float64) string {
	if f >= 1000 {
		return fmt.Sprintf("%.4g kHz", f/1000)
	}
	return fmt.Sprintf("%.4g Hz", f)
}

// timeAxis is the line below the picture.
func (v *listenFrame) timeAxis(w int) string {
	columnSeconds := readingsPerColumn * 0.05
	line := []rune(strings.Repeat(" ", axisWidth-1) + "└" + strings.Repeat("─", w))
	for s := 0.0; ; s += 5 {
		at := len(line) - 1 - int(math.Round(s/columnSeconds))
		label := []rune(fmt.Sprintf("-%.0f s", s))
		if s == 0 {
			label = []rune("now")
		}
		from := min(at-len(label)/2, len(line)-len(label))
		if from < axisWidth {
			return string(line)
		}
		copy(line[from:], label)
	}
}

// cellShade is one cell of the picture: an index of a shade, or a mark.
type cellShade struct {
	shade int
	mark  int // its colour, 0 for none
}

// drawColumn shades column x, and marks the rotor's lines in it.
func (v *listenFrame) drawColumn(grid [][]cellShade, x int, c heardColumn) {
	n := len(grid)
	df := v.now.ColumnHz
	for y := range grid {
		lo, hi := v.top*float64(n-1-y)/float64(n), v.top*float64(n-y)/float64(n)
		from := min(int(math.Ceil(lo/df)), len(c.levels)-1)
		to := min(max(from+1, int(math.Ceil(hi/df))), len(c.levels))
		loudest := math.Inf(-1)
		for k := max(0, from); k < to; k++ {
			loudest = max(loudest, float64(c.levels[k]))
		}
		share := (loudest - v.floor - 2) / rangeDB
		grid[y][x].shade = int(min(max(share, 0), 0.999) * float64(len(shades)))
	}
	if c.tone <= 0 {
		return
	}
	for m := 1.0; m <= linesInView && m*c.tone < v.top; m++ {
		y := max(0, n-1-int(m*c.tone/v.top*float64(n)))
		// the first line in every column, the others dotted and dim, so that the
		// sound itself stays visible
		switch {
		case m == 1:
			grid[y][x].mark = markColour
		case (v.count+x)%4 == int(m)%4:
			grid[y][x].mark = dimMarkColour
		}
	}
}

// colourRow draws two rows of cells in one line, the upper as the foreground of a
// half block.
func colourRow(upper, lower []cellShade) string {
	var b strings.Builder
	fore, back := -1, -1
	for x := range upper {
		f, k := upper[x].colour(), lower[x].colour()
		if f != fore {
			fmt.Fprintf(&b, "\x1b[38;5;%dm", f)
		}
		if k != back {
			fmt.Fprintf(&b, "\x1b[48;5;%dm", k)
		}
		fore, back = f, k
		b.WriteString("▀")
	}
	b.WriteString(stylePlain)
	return b.String()
}

func (c cellShade) colour() int {
	if c.mark != 0 {
		return c.mark
	}
	return shades[c.shade]
}

func letterRow(row []cellShade) string {
	b := make([]byte, len(row))
	for x, c := range row {
		b[x] = shadeLetters[c.shade*len(shadeLetters)/len(shades)]
		if c.mark != 0 {
			b[x] = 'o'
		}
	}
	return string(b)
}
