// Command sametext compares the texts that executed notebooks show: it reads pairs
// of them, and says for each cell that prints or shows another text which it is.
// Pictures and sounds are left out, also those inside HTML.
//
//	go run ./scripts/sametext a.ipynb b.ipynb ...
//
// It is for programs built in different ways, whose arithmetic may differ in the
// last digit: with or without fused multiply-add, with or without vector code. What
// is printed is rounded to its uncertainty and must not.
package main

import (
	"fmt"
	"os"
	"regexp"
	"strings"

	"rotorhum/kernel/notebook"
)

func main() {
	names := os.Args[1:]
	if len(names) == 0 || len(names)%2 != 0 {
		fmt.Fprintln(os.Stderr, "sametext: give notebooks in pairs")
		os.Exit(2)
	}
	bad := 0
	for i := 0; i < len(names); i += 2 {
		n, err := compare(names[i], names[i+1])
		if err != nil {
			fmt.Fprintln(os.Stderr, "sametext:", err)
			n++
		}
		bad += n
	}
	if bad > 0 {
		os.Exit(1)
	}
}

func compare(a, b string) (bad int, err error) {
	x, err := notebook.ReadFile(a)
	if err != nil {
		return 0, err
	}
	y, err := notebook.ReadFile(b)
	if err != nil {
		return 0, err
	}
	if len(x.Cells) != len(y.Cells) {
		return 0, fmt.Errorf("%s has %d cells, %s has %d", a, len(x.Cells), b, len(y.Cells))
	}
	for i := range x.Cells {
		s, t := lines(x.Cells[i]), lines(y.Cells[i])
		for j := range max(len(s), len(t)) {
			if one, other := at(s, j), at(t, j); one != other {
				fmt.Printf("%s, cell %d, line %d of its text:\n  %s\n  %s\n", a, i+1, j+1, one, other)
				bad++
				break
			}
		}
	}
	return bad, nil
}

func at(lines []string, i int) string {
	if i < len(lines) {
		return lines[i]
	}
	return "(nothing)"
}

// media is what stands in HTML for a picture or sound.
var media = regexp.MustCompile(`(?s)data:[a-z]+/[-+.a-z0-9]+[;,][^"')]*|<svg.*?</svg>`)

// lines is the text that a cell shows.
func lines(c *notebook.Cell) []string {
	var b strings.Builder
	for _, o := range c.Outputs {
		b.WriteString(o.Text)
		if o.ErrorName != "" {
			fmt.Fprintf(&b, "%s: %s\n", o.ErrorName, o.ErrorValue)
		}
		for _, mime := range []string{"text/plain", "text/markdown", "text/latex", "text/html"} {
			if text, ok := o.Bundle.Data[mime].(string); ok {
				b.WriteString(media.ReplaceAllString(text, "(media)") + "\n")
			}
		}
	}
	return strings.Split(b.String(), "\n")
}
