package page

import (
	"html"
	"strconv"
	"strings"

	"rotorhum/kernel/pattern"
)

// escape matches the control sequences that programs send to terminals: those
// of ECMA-48 (CSI, OSC) and lone escapes.
var escape = pattern.New("\x1b(\\[[0-?]*[ -/]*[@-~]|\\][^\x07\x1b]*(\x07|\x1b\\\\)?|[ -/]*[0-~]?)")

// terminalHTML returns text printed for a terminal as HTML: bold and the eight
// colours become span elements of the classes bold and c0 to c7, all other
// control sequences go.
func terminalHTML(text string) string {
	var out strings.Builder
	bold, colour, open := false, -1, false
	write := func(s string) {
		s = strings.Map(printable, s)
		if s == "" {
			return
		}
		var classes []string
		if bold {
			classes = append(classes, "bold")
		}
		if colour >= 0 {
			classes = append(classes, "c"+strconv.Itoa(colour))
		}
		if open = len(classes) > 0; open {
			out.WriteString(`<span class="` + strings.Join(classes, " ") + `">`)
		}
		out.WriteString(html.EscapeString(s))
		if open {
			out.WriteString("</span>")
		}
	}
	at := 0
	for _, m := range escape.Regexp().FindAllStringIndex(text, -1) {
		write(text[at:m[0]])
		at = m[1]
		sequence := text[m[0]:m[1]]
		if !strings.HasPrefix(sequence, "\x1b[") || !strings.HasSuffix(sequence, "m") {
			continue
		}
		for _, p := range strings.Split(sequence[2:len(sequence)-1], ";") {
			n, err := strconv.Atoi(p)
			switch {
			case p == "" || err == nil && n == 0:
				bold, colour = false, -1
			case n == 1:
				bold = true
			case n == 22:
				bold = false
			case n == 39:
				colour = -1
			case n >= 30 && n <= 37:
				colour = n - 30
			case n >= 90 && n <= 97:
				colour = n - 90
			}
		}
	}
	write(text[at:])
	return out.String()
}

// printable drops control characters other than tab and line end.
func printable(r rune) rune {
	if r < 0x20 && r != '\n' && r != '\t' || r == 0x7f {
		return -1
	}
	return r
}
