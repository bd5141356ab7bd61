package tacho

import (
	"html"
	"strings"
)

// htmlTable returns a table with the given heads over its columns; no heads,
// no head row. All texts are escaped. Its first column names the rows. What
// stands in a table without heads is text, which front ends would set to the right.
func htmlTable(heads []string, rows [][]string) string {
	var b strings.Builder
	b.WriteString("<table>")
	if len(heads) > 0 {
		b.WriteString("<thead><tr>")
		for _, h := range heads {
			b.WriteString(`<th scope="col">` + html.EscapeString(h) + "</th>")
		}
		b.WriteString("</tr></thead>")
	}
	td := "<td>"
	if len(heads) == 0 {
		td = `<td style="text-align:left">`
	}
	b.WriteString("<tbody>")
	for _, row := range rows {
		b.WriteString("<tr>")
		for i, cell := range row {
			if i == 0 {
				b.WriteString(`<th scope="row">` + html.EscapeString(cell) + "</th>")
			} else {
				b.WriteString(td + html.EscapeString(cell) + "</td>")
			}
		}
		b.WriteString("</tr>")
	}
	b.WriteString("</tbody></table>")
	return b.String()
}
