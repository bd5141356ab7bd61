package check

import (
	"fmt"
	"html"
	"strings"
	"unicode/utf8"
)

// Summary is a ledger to be shown: as a table in a notebook, as lines elsewhere.
type Summary struct {
	Title   string
	Entries []Entry
	// Sources lists each source once with the number of checks that lean on it,
	// in the order of their first use.
	Sources []SourceCount
}

// SourceCount is a source and how many checks name it.
type SourceCount struct {
	Source string
	Checks int
}

// Summary returns what the ledger holds now.
func (l *Ledger) Summary() Summary {
	s := Summary{Title: l.title, Entries: l.Entries()}
	for _, e := range s.Entries {
		at := -1
		for i, c := range s.Sources {
			if c.Source == e.Source {
				at = i
			}
		}
		if at < 0 {
			s.Sources = append(s.Sources, SourceCount{Source: e.Source})
			at = len(s.Sources) - 1
		}
		s.Sources[at].Checks++
	}
	return s
}

// String and HTML let a ledger itself stand at the end of a cell.
func (l *Ledger) String() string { return l.Summary().String() }

// HTML returns the ledger as a table.
func (l *Ledger) HTML() string { return l.Summary().HTML() }

// Passed returns how many checks hold.
func (s Summary) Passed() int {
	n := 0
	for _, e := range s.Entries {
		if e.OK {
			n++
		}
	}
	return n
}

// head says in one line how it went.
func (s Summary) head() string {
	n := len(s.Entries)
	if n == 0 {
		return s.Title + ": no checks yet"
	}
	if p := s.Passed(); p < n {
		return fmt.Sprintf("%s: %d of %d checks hold, %d FAILED", s.Title, p, n, n-p)
	}
	if n == 1 {
		return s.Title + ": the one check holds"
	}
	return fmt.Sprintf("%s: all %d checks hold", s.Title, n)
}

// String returns the summary as text: a head line, one line a check with its
// columns aligned, and the sources.
func (s Summary) String() string {
	var b strings.Builder
	b.WriteString(s.head())
	rows := make([][]string, 0, len(s.Entries))
	for _, e := range s.Entries {
		rows = append(rows, []string{e.mark(), e.What, "got " + e.got(), "want " + e.want(), e.source()})
	}
	widths := make([]int, 5)
	for _, r := range rows {
		for i, cell := range r {
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	for _, r := range rows {
		b.WriteString("\n ")
		for i, cell := range r {
			b.WriteString(" " + cell)
			if i < len(r)-1 {
				b.WriteString(strings.Repeat(" ", widths[i]-utf8.RuneCountInString(cell)+1))
			}
		}
	}
	if len(s.Sources) > 0 {
		b.WriteString("\nSources: ")
		for i, c := range s.Sources {
			if i > 0 {
				b.WriteString("; ")
			}
			fmt.Fprintf(&b, "%s (%d)", Entry{Source: c.Source}.source(), c.Checks)
		}
	}
	return b.String()
}

// HTML returns the summary as a table. All texts are escaped.
func (s Summary) HTML() string {
	var b strings.Builder
	b.WriteString(`<div class="rotorhum"><table><caption style="text-align:left"><b>` + html.EscapeString(s.head()) + `</b></caption>`)
	b.WriteString(`<thead><tr>`)
	for _, column := range []string{"check", "got", "want", "source", ""} {
		b.WriteString(`<th scope="col" style="text-align:left">` + column + `</th>`)
	}
	b.WriteString(`</tr></thead><tbody>`)
	for _, e := range s.Entries {
		b.WriteString(`<tr><th scope="row" style="text-align:left">` + html.EscapeString(e.What) + "</th>")
		for _, cell := range []string{e.got(), e.want(), e.source()} {
			b.WriteString(`<td style="text-align:left">` + html.EscapeString(cell) + "</td>")
		}
		mark := "holds"
		if !e.OK {
			mark = "<b>FAILED</b>: " + html.EscapeString(e.Why)
		}
		b.WriteString(`<td style="text-align:left">` + mark + "</td></tr>")
	}
	b.WriteString("</tbody></table></div>")
	return b.String()
}

func (e Entry) mark() string {
	if e.OK {
		return "ok    "
	}
	return "FAILED"
}

// got, want and source stand in for what an entry does not have.
func (e Entry) got() string    { return orDash(e.Got) }
func (e Entry) want() string   { return orDash(e.Want) }
func (e Entry) source() string { return orElse(e.Source, "no source given") }

func orDash(s string) string { return orElse(s, "–") }

func orElse(s, other string) string {
	if s == "" {
		return other
	}
	return s
}

// claim is what the entry compares, in one line.
func (e Entry) claim() string {
	return fmt.Sprintf("%s: got %s, want %s (%s)", e.What, e.got(), e.want(), e.source())
}

// String returns the line that a check prints.
func (e Entry) String() string {
	if e.OK {
		return "ok     " + e.claim()
	}
	return "FAILED " + e.claim() + ": " + e.Why
}
