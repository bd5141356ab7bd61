package provenance

import (
	"cmp"
	"fmt"
	"html"
	"strings"
)

// String says what the record holds, for people.
func (r *Record) String() string {
	var b strings.Builder
	p := r.Program
	fmt.Fprintf(&b, "program   rotorhum %s\n", p.name())
	fmt.Fprintf(&b, "built by  %s for %s, with %d modules\n", p.Go, p.Platform, len(p.Modules))
	fmt.Fprintf(&b, "seed      %s\n", r.seed())
	for i, f := range r.Files {
		fmt.Fprintf(&b, "%-8s  %s  %s\n", first(i, "files"), cmp.Or(f.SHA256, f.Why), f.Name)
	}
	if len(r.Files) == 0 {
		b.WriteString("files     none read\n")
	}
	for i, run := range r.Runs {
		fmt.Fprintf(&b, "%-8s  %-8s %s%s\n", first(i, "cells"), run.Name, run.Source[:min(12, len(run.Source))], run.remarks())
	}
	return strings.TrimRight(b.String(), "\n")
}

func first(i int, word string) string {
	if i > 0 {
		return ""
	}
	return word
}

func (r *Record) seed() string {
	switch r.RandomDraws {
	case 0:
		return fmt.Sprintf("%d, not used", r.Seed)
	case 1:
		return fmt.Sprintf("%d, used once", r.Seed)
	}
	return fmt.Sprintf("%d, used %d times", r.Seed, r.RandomDraws)
}

func (r Run) remarks() string {
	var all []string
	if r.Failed {
		all = append(all, "failed")
	}
	if all = append(all, r.Varies...); len(all) == 0 {
		return ""
	}
	return "  " + strings.Join(all, "; ")
}

// HTML is String as tables.
func (r *Record) HTML() string {
	p := r.Program
	var b strings.Builder
	row := func(cells ...string) {
		b.WriteString("<tr>")
		for i, c := range cells {
			tag := "td"
			if i == 0 {
				tag = "th"
			}
			fmt.Fprintf(&b, `<%s style="text-align:left">%s</%s>`, tag, c, tag)
		}
		b.WriteString("</tr>\n")
	}
	text := html.EscapeString
	code := func(s string) string { return "<code>" + text(s) + "</code>" }
	b.WriteString("<table><tbody>\n")
	row("program", "rotorhum "+text(p.name()))
	row("built by", text(fmt.Sprintf("%s for %s, with %d modules", p.Go, p.Platform, len(p.Modules))))
	row("seed", text(r.seed()))
	b.WriteString("</tbody></table>\n")
	if len(r.Files) > 0 {
		b.WriteString("<table><thead><tr><th>file read</th><th>SHA-256</th></tr></thead><tbody>\n")
		for _, f := range r.Files {
			sum := text(f.Why)
			if f.SHA256 != "" {
				sum = code(f.SHA256)
			}
			row(text(f.Name), sum)
		}
		b.WriteString("</tbody></table>\n")
	}
	b.WriteString("<table><thead><tr><th>cell, in order</th><th>SHA-256 of its text</th><th></th></tr></thead><tbody>\n")
	for _, run := range r.Runs {
		row(text(run.Name), code(run.Source[:min(12, len(run.Source))]), text(strings.TrimSpace(run.remarks())))
	}
	b.WriteString("</tbody></table>\n")
	return b.String()
}
