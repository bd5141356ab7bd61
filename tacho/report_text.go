package tacho

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// textWidth is the number of columns of the text report.
const textWidth = 80

// String returns the report as plain text of at most 80 columns: the answer
// first, then how sure it is, the other readings, the warnings and the
// cautions. Only a file name or a rotor's name may run wider.
func (m *Measurement) String() string {
	r := m.report()
	var b strings.Builder
	b.WriteString(wrapped(r.headline, "", ""))
	for _, s := range r.reasons {
		b.WriteString(wrapped(s, "  - ", "    "))
	}
	if len(r.answers) > 0 {
		rows := [][]string{{"", "", "95 % interval"}}
		for _, a := range r.answers {
			rows = append(rows, []string{a.what, a.value, a.interval})
		}
		b.WriteString("\n" + columns(rows))
	}
	if len(r.budget) > 0 {
		b.WriteString("\nWhere the doubt comes from (standard uncertainty, share in its square)\n")
		rows := [][]string{{"", "shaft speed", "", "tip speed", ""}}
		for _, c := range r.budget {
			rows = append(rows, []string{c.name, orDash(c.speed), c.speedShare, orDash(c.tip), c.tipShare})
		}
		if m.Derived == nil || m.Derived.Tip == nil {
			for i := range rows {
				rows[i] = rows[i][:3]
			}
		}
		b.WriteString(columns(rows))
		if r.advice != "" {
			b.WriteString(wrapped(r.advice, "  ", "  "))
		}
	}
	section(&b, "Other readings of the same sound", r.others)
	section(&b, "Warnings", r.warnings)
	if len(r.cautions) > 0 {
		b.WriteString("\nCautions\n")
		for _, c := range r.cautions {
			b.WriteString(wrapped(fmt.Sprintf("%s: %s [%s]", c.Hazard, c.Text, c.Source), "  - ", "    "))
		}
		b.WriteString(wrapped(CautionNote, "  ", "  "))
	}
	b.WriteString("\n")
	rows := [][]string{}
	for _, f := range r.facts {
		rows = append(rows, []string{f.what, f.text})
	}
	b.WriteString(columns(rows))
	return b.String()
}

func section(b *strings.Builder, title string, items []string) {
	if len(items) == 0 {
		return
	}
	b.WriteString("\n" + title + "\n")
	for _, s := range items {
		b.WriteString(wrapped(s, "  - ", "    "))
	}
}

func orDash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

// columns lays rows out in columns two blanks apart, indented by two.
func columns(rows [][]string) string {
	var width []int
	for _, row := range rows {
		for i, cell := range row {
			if i == len(width) {
				width = append(width, 0)
			}
			width[i] = max(width[i], utf8.RuneCountInString(cell))
		}
	}
	var b strings.Builder
	for _, row := range rows {
		line := ""
		for i, cell := range row {
			line += "  " + cell + strings.Repeat(" ", width[i]-utf8.RuneCountInString(cell))
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
	return b.String()
}

// wrapped breaks s at blanks into lines of at most textWidth columns; the
// first begins with first, the others with rest. A longer word stays whole.
func wrapped(s, first, rest string) string {
	var b strings.Builder
	line, used := first, utf8.RuneCountInString(first)
	empty := true
	for _, word := range strings.Fields(s) {
		n := utf8.RuneCountInString(word)
		if !empty && used+1+n > textWidth {
			b.WriteString(line + "\n")
			line, used, empty = rest, utf8.RuneCountInString(rest), true
		}
		if !empty {
			line += " "
			used++
		}
		line += word
		used += n
		empty = false
	}
	b.WriteString(line + "\n")
	return b.String()
}
