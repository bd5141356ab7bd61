package page

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	"github.com/yuin/goldmark/parser"
	"github.com/yuin/goldmark/renderer/html"
)

// markdown turns the Markdown of one page's cells into harmless HTML. Headings
// keep one set of names over all cells.
type markdown struct{ headings headingNames }

// html returns source as HTML. picture is as in [fragment].
func (m markdown) html(source string, picture func(string) (data, why string)) string {
	f := &formulas{}
	converter := goldmark.New(
		goldmark.WithExtensions(extension.GFM, extension.Footnote, mathMark{f}),
		goldmark.WithParserOptions(parser.WithAutoHeadingID()),
		// Raw HTML passes here because the whole is made harmless after.
		goldmark.WithRendererOptions(html.WithUnsafe()),
	)
	var out bytes.Buffer
	context := parser.NewContext(parser.WithIDs(m.headings))
	if err := converter.Convert([]byte(withoutMarks(source)), &out, parser.WithContext(context)); err != nil {
		return "<pre>" + escapeText(source) + "</pre>"
	}
	return fragment{formulas: f, picture: picture}.html(out.String())
}

// headingNames names headings as Jupyter's front ends do, so that links within
// a notebook lead to the same place: the text with a dash for each space.
type headingNames map[string]bool

// Generate implements [parser.IDs].
func (h headingNames) Generate(text []byte, _ ast.NodeKind) []byte {
	base := strings.Map(func(r rune) rune {
		if strings.ContainsRune("\"'<>&*`\ue000\ue001", r) {
			return -1
		}
		return r
	}, strings.Join(strings.Fields(string(text)), "-"))
	if base == "" {
		base = "heading"
	}
	name := base
	for n := 2; h[name]; n++ {
		name = fmt.Sprintf("%s-%d", base, n)
	}
	h[name] = true
	return []byte(name)
}

// Put implements [parser.IDs].
func (h headingNames) Put(name []byte) { h[string(name)] = true }
