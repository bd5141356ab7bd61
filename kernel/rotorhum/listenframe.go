package main

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"rotorhum/tacho"
	"rotorhum/tacho/listen"
)

// listenFrame lays out what a trial shows, in lines of text. It is pure: the same
// readings give the same lines.
type listenFrame struct {
	colours bool // 256 of them; else letters alone

	now     listen.State
	columns []heardColumn // the newest last
	wait    int           // readings until the next column
	next    heardColumn   // that column so far
	floor   float64       // of the sound, in dB
	top     float64       // highest frequency in the picture, Hz
	clipped float64       // until when the warning stands, s
	drawn   []string      // the picture as it was drawn last
	drawnAt [3]int        // for which size and column
	count   int           // columns so far
}

// heardColumn is the sound of one column of the picture.
type heardColumn struct {
	levels []float32 // dB, from 0 Hz on
	tone   float64   // Hz, 0 if no rotor was heard
}

const (
	readingsPerColumn = 2      // so that 20 s fit a wide terminal
	keptColumns       = 400    // more than any terminal is wide
	clipSeconds       = 1.5    // how long the warning of clipping stands
	rangeDB           = 30.0   // from the floor to the brightest
	leastTop          = 500.0  // Hz
	usualTop          = 2000.0 // Hz, before a rotor is heard
	linesInView       = 5.0    // harmonics that should find room
)

// add takes a reading over.
func (v *listenFrame) add(s *listen.State) {
	v.now = *s
	r := s.Reading
	if r.Clipped {
		v.clipped = r.At + clipSeconds
	}
	if v.next.levels == nil {
		v.next.levels = slices.Clone(r.Column)
	}
	for i, x := range r.Column {
		v.next.levels[i] = max(v.next.levels[i], x)
	}
	if r.Heard {
		v.next.tone = r.Tone.X
	}
	if v.wait++; v.wait < readingsPerColumn {
		return
	}
	v.columns = append(v.columns, v.next)
	if len(v.columns) > keptColumns {
		v.columns = slices.Delete(v.columns, 0, len(v.columns)-keptColumns)
	}
	v.count++
	v.wait, v.next = 0, heardColumn{}
	v.adapt()
}

// adapt follows the floor of the sound, and makes room for the rotor's lines.
func (v *listenFrame) adapt() {
	c := v.columns[len(v.columns)-1]
	if v.top == 0 {
		v.top = usualTop
	}
	limit := v.now.ColumnHz * float64(len(c.levels)-1)
	if len(c.levels) < 2 {
		return
	}
	level := make([]float32, 0, len(c.levels))
	for i, x := range c.levels {
		if float64(i)*v.now.ColumnHz <= v.top && !math.IsInf(float64(x), 0) {
			level = append(level, x)
		}
	}
	if len(level) > 0 {
		slices.Sort(level)
		median := float64(level[len(level)/2])
		if v.count == 1 {
			v.floor = median
		}
		v.floor += 0.05 * (median - v.floor)
	}
	if h := v.now.Reading.Highest; h != nil {
		// as high as the highest speed asks for, and never lower again
		want := linesInView * h.Tone.X
		for _, step := range []float64{500, 1000, 2000, 3000, 4000, 6000, 8000, 12000, 16000, 24000, 48000} {
			if step >= want {
				want = step
				break
			}
		}
		if want > v.top || v.count < 2*keptColumns && v.top == usualTop && want < usualTop {
			v.top = max(want, leastTop)
		}
	}
	v.top = min(v.top, limit)
}

// lines returns the lines of a terminal of that size, at most as many as fit.
func (v *listenFrame) lines(width, height int) []string {
	s := v.now
	head := []string{v.bar(width), v.speed(width), v.highest(width), ""}
	foot := v.foot(width, height)
	room := height - len(head) - len(foot) - 2 // the picture, its time axis and the meter
	var out []string
	out = append(out, head...)
	if room >= 4 && width >= 30 {
		at := [3]int{width, room, v.count}
		if v.drawn == nil || at != v.drawnAt {
			v.drawn, v.drawnAt = v.picture(width, room), at
		}
		out = append(out, v.drawn...)
	}
	out = append(out, v.meter(width, s.Reading.Level, s.Reading.Peak))
	out = append(out, foot...)
	if len(out) > height {
		out = out[:height]
	}
	return out
}

// Styles, for terminals with colours.
const (
	styleBar   = "\x1b[48;5;24m\x1b[38;5;231m"
	styleBig   = "\x1b[1m"
	styleDim   = "\x1b[38;5;245m"
	styleMark  = "\x1b[38;5;208m"
	styleAlarm = "\x1b[1m\x1b[48;5;160m\x1b[38;5;231m"
	stylePlain = "\x1b[0m"
)

func (v *listenFrame) styled(style, text string) string {
	if !v.colours {
		switch style {
		case styleBar, styleAlarm:
			return "\x1b[7m" + text + stylePlain // reversed, which every terminal can
		case styleBig:
			return styleBig + text + stylePlain
		}
		return text
	}
	return style + text + stylePlain
}

// fitted cuts or fills text to so many characters.
func fitted(text string, width int) string {
	n := utf8.RuneCountInString(text)
	switch {
	case width <= 0:
		return ""
	case n > width:
		return string([]rune(text)[:width-1]) + "…"
	}
	return text + strings.Repeat(" ", width-n)
}

// bar names the source and the time.
func (v *listenFrame) bar(width int) string {
	clock := fmt.Sprintf("%.1f s ", v.now.Reading.At)
	if v.now.Planned > 0 {
		clock = fmt.Sprintf("%.1f of %.4g s ", v.now.Reading.At, v.now.Planned)
	}
	left := max(0, width-utf8.RuneCountInString(clock))
	return v.styled(styleBar, fitted(fmt.Sprintf(" Listening to %s, %v", v.now.Source, v.now.Format), left)+fitted(clock, width-left))
}

// speed says how fast the rotor turns now.
func (v *listenFrame) speed(width int) string {
	r := v.now.Reading
	if !r.Heard {
		return v.styled(styleDim, fitted(" now       no speed: "+r.Why, width))
	}
	return v.styled(styleBig, fitted(speedLine("now", r.Speed, ""), width))
}

func (v *listenFrame) highest(width int) string {
	h := v.now.Reading.Highest
	if h == nil {
		return v.styled(styleDim, fitted(" highest   no rotor was heard yet", width))
	}
	return v.styled(styleMark, fitted(speedLine("highest", h.Speed, fmt.Sprintf("at %.2f s", h.T)), width))
}

// speedLine puts a speed into columns that stay where they are.
func speedLine(name string, speed tacho.Value, behind string) string {
	rpm := speed.Scale(60, "rpm")
	return fmt.Sprintf(" %-8s %14s  %12s   95 %%: %s  %s", name, speed.Rounded(), rpm.Rounded(), speed.Between(), behind)
}

// meter draws how loud it is, with the peak and the end of the scale.
func (v *listenFrame) meter(width int, level, peak float64) string {
	const lowest = -60.0
	words := fmt.Sprintf(" peak %s", decibelWords(peak))
	if v.now.Reading.At < v.clipped {
		words = " CLIPPED: too loud, move the microphone away or turn it down"
	}
	size := min(40, width-24)
	if size < 10 {
		return v.alarm(fitted(words, width))
	}
	at := func(db float64) int { return int(math.Round(float64(size) * min(max((db-lowest)/-lowest, 0), 1))) }
	bar := []rune(strings.Repeat("█", at(level)) + strings.Repeat("░", size-at(level)))
	if p := at(peak); p > 0 {
		bar[p-1] = '▌'
	}
	return " level -60 " + string(bar) + " 0 dB " + v.alarm(fitted(words, max(0, width-size-17)))
}

func (v *listenFrame) alarm(text string) string {
	if v.now.Reading.At < v.clipped {
		return v.styled(styleAlarm, text)
	}
	return text
}

// cautionSeconds is how long one caution is shown before the next.
const cautionSeconds = 12.0

// foot says how to end, where the sound goes, and what to beware of.
func (v *listenFrame) foot(width, height int) []string {
	kept := "nothing is kept of a rehearsal"
	if v.now.Kept != "" {
		kept = "kept in " + v.now.Kept
	}
	lines := []string{fitted(" any key ends   "+kept, width)}
	if v.now.Lost > 0 {
		lines = append(lines, v.styled(styleAlarm, fitted(fmt.Sprintf(" %.2f s of sound lost: the disk or the machine is too busy", v.now.Lost), width)))
	}
	if v.now.Skipped > 0 {
		lines = append(lines, fitted(fmt.Sprintf(" %.1f s kept but not followed: the machine is too busy", v.now.Skipped), width))
	}
	if height < 16 {
		return lines
	}
	all := tacho.Cautions()
	c := all[int(v.now.Reading.At/cautionSeconds)%len(all)]
	const most = 4
	text := wrapped(fmt.Sprintf("Caution, %s: %s (%s)", c.Hazard, c.Text, c.Source), width-2)
	if len(text) > most {
		text = text[:most]
		text[most-1] = fitted(text[most-1], width-3) + "…"
	}
	for i := range most { // as many lines for each, so that nothing jumps
		line := ""
		if i < len(text) {
			line = text[i]
		}
		lines = append(lines, v.styled(styleDim, fitted(" "+line, width)))
	}
	return lines
}

// wrapped breaks text at spaces into lines of at most width characters.
func wrapped(text string, width int) (lines []string) {
	line := ""
	for _, word := range strings.Fields(text) {
		if line != "" && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > width {
			lines, line = append(lines, line), ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	return append(lines, line)
}
