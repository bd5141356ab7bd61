package tacho

import (
	"fmt"
	"html"
	"strings"
)

// String says in a few words what was found, and how clearly.
func (s *FamilySearch) String() string {
	out := "no reading: " + s.Reason
	if s.Family != nil {
		out = s.Family.String()
	}
	if len(s.Candidates) > 0 {
		out += fmt.Sprintf("; %s weighed, %s with evidence of %s nats where %s were needed",
			counted(len(s.Candidates), "candidate"), s.best(), formatSig(s.EvidenceAt(s.best()), 3), formatSig(s.Least, 3))
	}
	return out
}

// HTML shows the candidates in a notebook, and what each line of the one found says.
func (s *FamilySearch) HTML() string {
	var b strings.Builder
	b.WriteString(`<div class="rotorhum"><b>` + html.EscapeString(s.String()) + "</b>")
	var rows [][]string
	for _, c := range s.Candidates {
		ratio := ratioText(float64(c.Tone / s.best()))
		rows = append(rows, []string{c.Tone.String(), ratio, fixed(c.Evidence, 1)})
	}
	if len(rows) > 0 {
		b.WriteString(htmlTable([]string{"candidate", "times that found", "evidence (nats)"}, rows))
		b.WriteString("<p>What the lines of " + html.EscapeString(s.best().String()) + " say for it</p>")
		rows = nil
		for _, l := range s.Lines(s.best()) {
			if l.Reach < 0.01 {
				break
			}
			rows = append(rows, []string{fmt.Sprint(l.M), l.Freq.String(), fixed(l.SNR, 1), fixed(l.Evidence, 1)})
		}
		b.WriteString(htmlTable([]string{"harmonic m", "frequency", "above the noise (dB)", "evidence (nats)"}, rows))
	}
	b.WriteString("</div>")
	return b.String()
}
