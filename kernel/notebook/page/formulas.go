package page

import (
	"strconv"
	"strings"

	"golang.org/x/net/html"

	"rotorhum/kernel/pattern"
)

// formulas keeps the formulas of one Markdown text out of it while its HTML is
// made harmless. In the HTML each has a mark in its place, a number between two
// characters of Unicode's private use.
type formulas struct{ made []string }

var formulaMark = pattern.New("\ue000([0-9]+)\ue001")

// withoutMarks removes from Markdown the characters that marks are made of.
func withoutMarks(source string) string {
	return strings.NewReplacer("\ue000", "\ufffd", "\ue001", "\ufffd").Replace(source)
}

// keep returns the mark of a formula.
func (f *formulas) keep(source string, display bool) string {
	f.made = append(f.made, mathHTML(source, display))
	return "\ue000" + strconv.Itoa(len(f.made)-1) + "\ue001"
}

// putBack replaces the marks in a text node by their formulas. Marks are
// looked for in text only, so that a forged one can at most show a formula
// twice.
func (f *formulas) putBack(n *html.Node) {
	text, at := n.Data, 0
	for _, m := range formulaMark.Regexp().FindAllStringSubmatchIndex(text, -1) {
		i, err := strconv.Atoi(text[m[2]:m[3]])
		if err != nil || i >= len(f.made) {
			continue
		}
		n.Parent.InsertBefore(&html.Node{Type: html.TextNode, Data: text[at:m[0]]}, n)
		n.Parent.InsertBefore(&html.Node{Type: html.RawNode, Data: f.made[i]}, n)
		at = m[1]
	}
	n.Data = text[at:]
}
