package tacho

import (
	"fmt"
	"html"
	"math"
	"strings"
)

// String says in a few lines what was weighed and what became of it.
func (in *Inspection) String() string {
	s := in.Track.String()
	if in.Hum > 0 {
		s += fmt.Sprintf("\nthe hum of a supply at %s was taken out first", in.Hum)
	}
	if len(in.Candidates) > 0 {
		kept := 0
		for _, c := range in.Courses {
			if c.Kept {
				kept++
			}
		}
		s += fmt.Sprintf("\n%s, of which %s could be chained and %d moved like a rotor",
			counted(len(in.Candidates), "candidate"), counted(len(in.Courses), "course"), kept)
	}
	for i := range in.Weighings {
		s += "\n" + in.Weighings[i].String()
	}
	for i := range in.Fits {
		s += "\n" + in.Fits[i].String()
	}
	if in.Search != nil {
		s += "\nas one steady rate: " + in.Search.String()
	}
	return s
}

// HTML shows the inspection in a notebook: the courses, the readings and how well
// the phases fit.
func (in *Inspection) HTML() string {
	var b strings.Builder
	b.WriteString(`<div class="rotorhum">`)
	for _, line := range strings.Split(in.String(), "\n") {
		b.WriteString("<p>" + html.EscapeString(line) + "</p>")
	}
	var rows [][]string
	for _, c := range in.Courses {
		lo, hi := c.Tone[0], c.Tone[0]
		for _, t := range c.Tone {
			lo, hi = min(lo, t), max(hi, t)
		}
		rows = append(rows, []string{
			fmt.Sprintf("%s to %s s", fixed(c.T[0], 2), fixed(c.T[len(c.T)-1], 2)),
			fmt.Sprintf("%s to %s Hz", formatSig(float64(lo), 4), formatSig(float64(hi), 4)),
			fixed(c.Evidence, 0), figureOrDash(c.Agility), figureOrDash(c.Coherence), c.Why})
	}
	if len(rows) > 0 {
		b.WriteString(htmlTable([]string{"course", "rates", "evidence (nats)", "restlessness (s^-2.5)", "coherence", "verdict"}, rows))
	}
	for i := range in.Weighings {
		b.WriteString(in.Weighings[i].table())
	}
	b.WriteString("</div>")
	return b.String()
}

func figureOrDash(x float64) string {
	if math.IsNaN(x) {
		return "–"
	}
	return formatSig(x, 2)
}

// String says which reading won, and how clearly.
func (w *Weighing) String() string {
	if len(w.Readings) == 0 {
		return "no readings were weighed"
	}
	s := fmt.Sprintf("%s to %s s: %s won of %s", fixed(w.From, 2), fixed(w.To, 2), w.Readings[0].Tone, counted(len(w.Readings), "reading"))
	if len(w.Readings) > 1 {
		s += fmt.Sprintf("; next, %s times that, is %s", w.Readings[1].Factor, odds(w.Readings[1].Odds))
	}
	return s
}

// HTML shows the readings in a notebook, the best first.
func (w *Weighing) HTML() string {
	return `<div class="rotorhum"><p>` + html.EscapeString(w.String()) + "</p>" + w.table() + "</div>"
}

// shownReadings is how many readings a table holds: those behind are out of the
// question.
const shownReadings = 8

func (w *Weighing) table() string {
	var rows [][]string
	for _, r := range w.Readings[:min(shownReadings, len(w.Readings))] {
		rows = append(rows, []string{r.Factor, r.Tone.String(), fixed(r.Evidence, 1), odds(r.Odds)})
	}
	if len(rows) == 0 {
		return ""
	}
	rows[0][3] = "the best"
	return htmlTable([]string{"times the best", "pulse rate", "evidence (nats)", "likelihood"}, rows)
}

// String says how long the stretch is and how well its phase fits.
func (f *PhaseFit) String() string {
	if len(f.T) == 0 {
		return "no phase was followed"
	}
	uneven := ""
	if f.Jitter > 0 {
		uneven = fmt.Sprintf(", single pulses early or late by %s %% of their distance (rms)", formatSig(100*f.Jitter, 2))
	}
	for _, w := range f.Flutter {
		uneven += fmt.Sprintf(", the speed swings by %s at %s", w.Depth, w.Rate)
	}
	if f.HighPass != nil {
		uneven += fmt.Sprintf(", the delay of a high-pass with its corner at %s taken out", f.HighPass)
	}
	return fmt.Sprintf("%s to %s s: phase followed through %s, residual %s times its uncertainty (rms), coherence %s, variances widened %s times",
		fixed(f.T[0], 2), fixed(f.T[len(f.T)-1], 2), counted(len(f.T), "block"), formatSig(f.ResidualRMS(), 2), formatSig(f.Coherence, 2), formatSig(f.Inflation, 3)) + uneven
}
