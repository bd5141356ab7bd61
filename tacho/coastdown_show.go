package tacho

import (
	"fmt"
	"html"
)

// String lists the laws, the most credible first.
func (c *CoastDown) String() string {
	s := fmt.Sprintf("coast-down from %.4g to %.4g s: %s, worth %.0f independent readings", c.From, c.To, counted(len(c.T), "point"), c.Independent)
	for _, f := range c.Fits {
		s += "\n  " + f.Friction.String() + " (" + oddsText(f.Odds) + ")"
	}
	for _, r := range c.Refused {
		s += "\n  refused: " + r
	}
	return s
}

func oddsText(odds float64) string {
	switch {
	case odds == 1:
		return "the most credible"
	case odds >= mostOdds:
		return "at least 10¹² times less credible"
	}
	digits := 1 // odds are exponentials of small differences
	if odds < 10 {
		digits = 2
	}
	return formatSig(odds, digits) + " times less credible"
}

// HTML shows the laws as a table.
func (c *CoastDown) HTML() string {
	var rows [][]string
	for _, f := range c.Fits {
		row := []string{f.Name()}
		for _, v := range f.values() {
			if v.X == 0 && len(v.Parts) == 0 {
				row = append(row, "")
			} else {
				row = append(row, v.String())
			}
		}
		rows = append(rows, append(row, formatSig(1000*f.RMS, uncertaintyDigits), oddsText(f.Odds)))
	}
	out := `<div class="rotorhum"><p>` + html.EscapeString(fmt.Sprintf("Coast-down from %.4g to %.4g s: %s, worth %.0f independent readings.",
		c.From, c.To, counted(len(c.T), "point"), c.Independent)) + "</p>" +
		htmlTable([]string{"law", "Coulomb", "viscous", "quadratic", "left over (mrev/s)", "credibility"}, rows)
	for _, r := range c.Refused {
		out += "<p>Refused: " + html.EscapeString(r) + "</p>"
	}
	return out + "</div>"
}
