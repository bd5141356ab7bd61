package ledger

import (
	"fmt"
	"html"
	"strings"
)

// List is what Stale returns, for people to read.
type List []Stale

// String lists the cells one a line.
func (l List) String() string {
	if len(l) == 0 {
		return "Every cell shows what a run from top to bottom would show, as far as the session knows."
	}
	var b strings.Builder
	for _, s := range l {
		fmt.Fprintf(&b, "%s  %s: %s\n", s.Name, firstLine(s.Source), s.Reason)
	}
	return strings.TrimRight(b.String(), "\n")
}

// HTML lists them as a table.
func (l List) HTML() string {
	if len(l) == 0 {
		return "<p>" + html.EscapeString(l.String()) + "</p>"
	}
	var b strings.Builder
	b.WriteString(`<table><tbody>`)
	for _, s := range l {
		fmt.Fprintf(&b, `<tr><th style="text-align:left">%s</th><td style="text-align:left"><code>%s</code></td><td style="text-align:left">%s</td></tr>`,
			html.EscapeString(s.Name), html.EscapeString(firstLine(s.Source)), html.EscapeString(s.Reason))
	}
	b.WriteString(`</tbody></table>`)
	return b.String()
}

// firstLine is the first line of a cell that says what it does, cut to a readable
// length: one that is neither blank nor an import nor a comment, if there is one.
func firstLine(source string) string {
	first, group := "", false
	for line := range strings.Lines(source) {
		line = strings.TrimSpace(line)
		if line == "" {
			continue
		}
		if first == "" {
			first = line
		}
		group = group || strings.HasPrefix(line, "import (")
		plain := group || strings.HasPrefix(line, "import ") || strings.HasPrefix(line, "//")
		group = group && !strings.HasSuffix(line, ")")
		if !plain {
			first = line
			break
		}
	}
	if r := []rune(first); len(r) > 48 {
		return string(r[:47]) + "…"
	}
	return first
}
