package page

import (
	"regexp"
	"strings"
	"sync"

	"github.com/microcosm-cc/bluemonday"
	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"

	"rotorhum/kernel/pattern"
)

// harmless cuts HTML down to elements and attributes that can neither run nor
// load anything: text, tables, lists, links, pictures, sounds, folded parts.
var harmless = sync.OnceValue(newPolicy)

// embedded is a data: address of a type that is shown, not run.
var embedded = pattern.New(`^data:(image/(png|jpeg|gif|webp|svg\+xml)|audio/[a-z0-9.+-]+)(;[a-z0-9=.-]+)*;base64,[A-Za-z0-9+/=\s]*$`)

func newPolicy() *bluemonday.Policy {
	p := bluemonday.UGCPolicy()
	p.AllowAttrs("class").Matching(regexp.MustCompile(`^(task-list|footnotes?|caption|note|tip|warning|caution)$`)).Globally()
	// Jupyter's own way to name a heading keeps capitals and any sign.
	p.AllowAttrs("id").Matching(regexp.MustCompile(`^[^\s"'<>&]{1,200}$`)).OnElements("h1", "h2", "h3", "h4", "h5", "h6")
	p.AllowAttrs("type").Matching(regexp.MustCompile(`^checkbox$`)).OnElements("input")
	p.AllowAttrs("checked", "disabled").Matching(regexp.MustCompile(`^$`)).OnElements("input")
	p.AllowElements("audio", "source", "input", "mark", "kbd", "figure", "figcaption", "details", "summary")
	p.AllowAttrs("open").Matching(regexp.MustCompile(`^(open)?$`)).OnElements("details")
	p.AllowAttrs("controls").Matching(regexp.MustCompile(`^(controls)?$`)).OnElements("audio")
	p.AllowAttrs("src").OnElements("audio", "source")
	p.AllowAttrs("type").Matching(regexp.MustCompile(`^audio/[a-z0-9.+-]+$`)).OnElements("source")
	// The words for a picture may hold any sign; what is not text is escaped.
	p.AllowAttrs("alt").OnElements("img")
	p.AllowStyles("text-align", "color", "background-color", "font-weight", "font-style", "width", "max-width").Globally()
	p.AllowURLSchemes("http", "https", "mailto", "data", "attachment")
	p.AllowRelativeURLs(true)
	p.RequireNoFollowOnLinks(false)
	p.RequireNoReferrerOnLinks(true)
	return p
}

// fragment is a place in the page where HTML that others wrote goes.
type fragment struct {
	// formulas replaces the marks that stand for formulas; it may be nil.
	formulas *formulas
	// picture finds the picture that a relative address names and returns its
	// data: address, or why it is not shown. It may be nil.
	picture func(address string) (data, why string)
}

// html returns source made harmless, with its pictures and sounds inside it.
func (f fragment) html(source string) string {
	body := &html.Node{Type: html.ElementNode, Data: "div", DataAtom: atom.Div}
	nodes, err := html.ParseFragment(strings.NewReader(harmless().Sanitize(source)), body)
	if err != nil {
		return html.EscapeString(source)
	}
	for _, n := range nodes {
		body.AppendChild(n)
	}
	f.settle(body)
	var out strings.Builder
	for n := body.FirstChild; n != nil; n = n.NextSibling {
		if err := html.Render(&out, n); err != nil {
			return html.EscapeString(source)
		}
	}
	return out.String()
}

// settle walks the tree under n and puts in what the sanitiser cannot judge.
func (f fragment) settle(n *html.Node) {
	for c := n.FirstChild; c != nil; {
		next := c.NextSibling
		switch {
		case c.Type == html.TextNode && f.formulas != nil:
			f.formulas.putBack(c)
		case c.Type == html.ElementNode && (c.DataAtom == atom.Img || c.DataAtom == atom.Audio || c.DataAtom == atom.Source):
			f.settleMedia(c)
		case c.Type == html.ElementNode && c.DataAtom == atom.A:
			settleLink(c)
		}
		f.settle(c)
		c = next
	}
}

// settleMedia leaves a picture or sound in place if all of it is in the page,
// and otherwise says in words what is missing.
func (f fragment) settleMedia(n *html.Node) {
	src := attribute(n, "src")
	if src == "" && n.DataAtom == atom.Audio {
		return // its source elements are looked at by themselves
	}
	why := "it is not part of this page"
	switch {
	case embedded.Regexp().MatchString(src) && (n.DataAtom == atom.Img) == strings.HasPrefix(src, "data:image/"):
		return
	case n.DataAtom == atom.Img && f.picture != nil && !strings.HasPrefix(src, "data:"):
		var data string
		if data, why = f.picture(src); data != "" {
			setAttribute(n, "src", data)
			return
		}
	}
	name := src
	if strings.HasPrefix(name, "data:") {
		name, _, _ = strings.Cut(name, ",")
	}
	words := attribute(n, "alt")
	if words != "" {
		words += " "
	}
	n.Parent.InsertBefore(&html.Node{Type: html.TextNode, Data: "[" + words + "(" + name + ": " + why + ")]"}, n)
	n.Parent.RemoveChild(n)
}

// settleLink takes the address from links that lead to data of any kind.
func settleLink(n *html.Node) {
	address := strings.ToLower(strings.TrimSpace(attribute(n, "href")))
	if strings.HasPrefix(address, "data:") || strings.HasPrefix(address, "attachment:") {
		setAttribute(n, "href", "")
	}
}

func attribute(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

// setAttribute sets an attribute; "" removes it.
func setAttribute(n *html.Node, name, value string) {
	var kept []html.Attribute
	for _, a := range n.Attr {
		if a.Key != name {
			kept = append(kept, a)
		}
	}
	if value != "" {
		kept = append(kept, html.Attribute{Key: name, Val: value})
	}
	n.Attr = kept
}
