package tacho

import (
	"fmt"
	"html"
	"strings"
)

// String says in one line what the family is.
func (f *Family) String() string {
	s := fmt.Sprintf("pulse rate %s, %s found", f.Tone, counted(len(f.Lines), "line"))
	if f.Balanced && len(f.Alternatives) > 0 {
		s += fmt.Sprintf("; %s is as likely", f.Alternatives[0].Tone)
	}
	return s
}

// HTML shows the family in a notebook: the pulse rate, its lines and the other
// readings of the same sound.
func (f *Family) HTML() string {
	var b strings.Builder
	b.WriteString(`<div class="rotorhum"><b>` + html.EscapeString(f.String()) + "</b>")
	if lo, hi := f.Tone.CI95(); lo < hi {
		b.WriteString("<br>95 % interval " + html.EscapeString(f.Tone.Between()))
	}
	rows := make([][]string, len(f.Lines))
	for i, l := range f.Lines {
		rows[i] = []string{formatSig(l.M, 4), l.Freq.String(), level(l.Amp), fixed(l.SNR, 1)}
	}
	b.WriteString(htmlTable([]string{"harmonic m", "frequency", "level (dB re full scale)", "above the noise (dB)"}, rows))
	if len(f.Alternatives) > 0 {
		b.WriteString("<p>Other readings of the same sound</p>")
		rows = nil
		for _, a := range f.Alternatives {
			rows = append(rows, []string{a.Tone.String(), a.Factor, odds(a.Odds)})
		}
		b.WriteString(htmlTable([]string{"pulse rate", "times the winner", "likelihood"}, rows))
	}
	b.WriteString("</div>")
	return b.String()
}

// level prints an amplitude in decibels relative to full scale.
func level(amp float64) string {
	if !(amp > 0) {
		return "−∞"
	}
	return fixed(decibels(amp), 1)
}

// outOfQuestion are odds beyond which their size says nothing more.
const outOfQuestion = 1e6

// odds puts into words how much less likely a reading is than the winner.
func odds(x float64) string {
	switch {
	case x < 1.5:
		return "as likely"
	case x >= outOfQuestion:
		return "more than a million times less likely"
	}
	return formatSig(x, 2) + " times less likely"
}
