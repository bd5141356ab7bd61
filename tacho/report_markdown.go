package tacho

import (
	"fmt"
	"strings"
)

// Markdown returns the report as CommonMark with tables. Whatever comes
// from outside, such as a file name, is escaped.
func (m *Measurement) Markdown() string {
	r := m.report()
	var b strings.Builder
	fmt.Fprintf(&b, "## %s\n", markdownText(r.headline))
	markdownList(&b, "", r.reasons)
	if len(r.answers) > 0 {
		b.WriteString("\n| quantity | value | 95 % interval |\n|---|---|---|\n")
		for _, a := range r.answers {
			fmt.Fprintf(&b, "| %s | %s | %s |\n", markdownText(a.what), markdownText(a.value), markdownText(a.interval))
		}
	}
	if len(r.budget) > 0 {
		b.WriteString("\n### Where the doubt comes from\n\n| cause | shaft speed | share | tip speed | share |\n|---|---|---|---|---|\n")
		for _, c := range r.budget {
			fmt.Fprintf(&b, "| %s | %s | %s | %s | %s |\n", markdownText(c.name), orDash(markdownText(c.speed)), c.speedShare, orDash(markdownText(c.tip)), c.tipShare)
		}
		b.WriteString("\nStandard uncertainty, and its share in the square of the whole.")
		if r.advice != "" {
			b.WriteString(" " + markdownText(r.advice))
		}
		b.WriteString("\n")
	}
	markdownList(&b, "Other readings of the same sound", r.others)
	markdownList(&b, "Warnings", r.warnings)
	if len(r.cautions) > 0 {
		var items []string
		for _, c := range r.cautions {
			items = append(items, fmt.Sprintf("%s: %s (%s)", c.Hazard, c.Text, c.Source))
		}
		markdownList(&b, "Cautions", items)
		b.WriteString("\n" + markdownText(CautionNote) + "\n")
	}
	b.WriteString("\n### What was measured\n\n| | |\n|---|---|\n")
	for _, f := range r.facts {
		fmt.Fprintf(&b, "| %s | %s |\n", markdownText(f.what), markdownText(f.text))
	}
	return b.String()
}

func markdownList(b *strings.Builder, title string, items []string) {
	if len(items) == 0 {
		return
	}
	if title != "" {
		fmt.Fprintf(b, "\n### %s\n", title)
	}
	b.WriteString("\n")
	for _, s := range items {
		b.WriteString("- " + markdownText(s) + "\n")
	}
}

// markdownText escapes what Markdown or HTML would read as markup, and keeps
// the text on one line.
func markdownText(s string) string {
	s = strings.Join(strings.Fields(s), " ")
	var b strings.Builder
	for _, r := range s {
		if strings.ContainsRune("\\`*_{}[]<>#|!&~$^", r) {
			b.WriteByte('\\')
		}
		b.WriteRune(r)
	}
	return b.String()
}
