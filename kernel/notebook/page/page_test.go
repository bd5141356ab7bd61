package page

import (
	"encoding/base64"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"

	"golang.org/x/net/html"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/notebook"
)

// dot is a PNG of one transparent pixel.
const dot = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR4nGNgYGBgAAAABQABpfZFQAAAAABJRU5ErkJggg=="

func prose(source string) *notebook.Cell {
	return &notebook.Cell{Kind: notebook.MarkdownCell, Source: source}
}

func showing(outputs ...*notebook.Output) *notebook.Cell {
	return &notebook.Cell{Kind: notebook.CodeCell, Source: "x", Count: 1, Outputs: outputs}
}

func display(mime, content string) *notebook.Output {
	return &notebook.Output{Kind: notebook.DisplayOutput, Bundle: cell.Bundle{Data: map[string]any{mime: content, "text/plain": "in words"}}}
}

func pageOf(t *testing.T, o Options, cells ...*notebook.Cell) string {
	t.Helper()
	text, err := HTML(&notebook.Notebook{Metadata: map[string]any{}, Cells: cells}, o)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// What a stranger's notebook may bring. The marks X1, X2 ... are program text;
// none may end up where a browser would run it.
var hostile = []string{
	`<script>X1</script>`,
	`<img src=x onerror=X2>`,
	`<img src="javascript:X3">`,
	`[link](javascript:X4) <a href="JaVaScRiPt:X5">a</a> <a href="data:text/html,<script>X6</script>">b</a>`,
	`<svg onload=X7><script>X8</script><a xlink:href="javascript:X9"><text>t</text></a></svg>`,
	`<math><mtext><table><mglyph><style><!--</style><img title="--&gt;&lt;img src=1 onerror=X10&gt;">`,
	`<iframe src="javascript:X11"></iframe><object data="X12"></object><embed src="X13">`,
	`<style>@import url(https://example.org/X14); body{background:url(https://example.org/X15)}</style>`,
	`<p style="background:url(https://example.org/X16);position:fixed">p</p>`,
	`<form action="https://example.org/X17"><button formaction="javascript:X18">b</button></form>`,
	`<base href="https://example.org/"><meta http-equiv="refresh" content="0;url=javascript:X19"><link rel=stylesheet href="https://example.org/X20">`,
	`<audio src="https://example.org/X21.wav" onplay=X22 autoplay></audio><video src="https://example.org/X23" poster="https://example.org/X24"></video>`,
	"$\\text{<img src=x onerror=X25>}$ and $<script>X26</script>$",
	"<img alt=\"\ue0000\ue001\" src=x> $\\text{\" onerror=X27 x=\"}$ <b title=\"&#xe000;0&#xe001;\">&#xe000;0&#xe001;</b>",
	"```\"><script>X28</script>\n<script>X29</script>\n```",
	`<details open ontoggle=X30><summary>s</summary></details>`,
	"# <script>X31</script> heading \" onclick=X32\n",
	`![alt" onerror="X33](x "t\" onerror=X34")`,
	`<a href="https://example.org/" target="_blank" onclick="X35">far</a>`,
	`</div></section></main><script>X36</script>`,
	`<noscript><p title="</noscript><img src=x onerror=X37>">`,
	`<template><script>X38</script></template><textarea></textarea><script>X39</script>`,
	`<input type="image" src="https://example.org/X40" onfocus=X41 autofocus>`,
}

// harmfulIn parses a page as a browser does and lists what could run in it or
// load anything.
func harmfulIn(page string) []string {
	root, err := html.Parse(strings.NewReader(page))
	if err != nil {
		return []string{err.Error()}
	}
	allowed := regexp.MustCompile(`^(html|head|meta|title|style|body|main|section|footer|div|span|p|h[1-6]|pre|code|b|i|em|strong|a|img|figure|figcaption|audio|source|table|thead|tbody|tr|th|td|ul|ol|li|input|details|summary|br|hr|del|sup|sub|blockquote|kbd|mark|math|semantics|annotation|m[a-z]+|form|button)$`)
	var bad []string
	styles := 0
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.ElementNode {
			if !allowed.MatchString(n.Data) || n.Data == "form" || n.Data == "button" {
				bad = append(bad, "<"+n.Data+">")
			}
			if n.Data == "style" {
				styles++
			}
			for _, a := range n.Attr {
				v := strings.ToLower(strings.TrimSpace(a.Val))
				switch {
				case strings.HasPrefix(a.Key, "on") || a.Key == "srcdoc" || a.Key == "action" || a.Key == "formaction" || a.Key == "autofocus" || a.Key == "autoplay":
					bad = append(bad, n.Data+" "+a.Key)
				case a.Key == "src" && !strings.HasPrefix(v, "data:image/") && !strings.HasPrefix(v, "data:audio/"):
					bad = append(bad, n.Data+" src "+a.Val)
				case a.Key == "href" && (strings.HasPrefix(v, "javascript:") || strings.HasPrefix(v, "data:") || strings.HasPrefix(v, "vbscript:")):
					bad = append(bad, n.Data+" href "+a.Val)
				case a.Key == "style" && (strings.Contains(v, "url") || strings.Contains(v, "position")):
					bad = append(bad, n.Data+" style "+a.Val)
				case a.Key == "http-equiv" && a.Val != "Content-Security-Policy":
					bad = append(bad, n.Data+" http-equiv "+a.Val)
				}
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(root)
	if styles != 1 {
		bad = append(bad, "a second style element")
	}
	return bad
}

func TestNothingOfAStrangerRuns(t *testing.T) {
	for _, h := range hostile {
		asProse := prose(h)
		asCode := &notebook.Cell{Kind: notebook.CodeCell, Source: h, Metadata: map[string]any{"tags": []any{h}}}
		asRaw := &notebook.Cell{Kind: notebook.RawCell, Source: h}
		outputs := showing(
			display("text/html", h), display("text/markdown", h), display("text/latex", h), display("image/svg+xml", h),
			display("image/png", h), display("audio/wav", h), display("application/json", h),
			&notebook.Output{Kind: notebook.StreamOutput, Name: "stdout", Text: h},
			&notebook.Output{Kind: notebook.StreamOutput, Name: h, Text: h},
			&notebook.Output{Kind: notebook.ErrorOutput, ErrorName: h, ErrorValue: h, Traceback: []string{h}},
			&notebook.Output{Kind: notebook.DisplayOutput, Bundle: cell.Bundle{
				Data:     map[string]any{"image/png": dot, "text/plain": h},
				Metadata: map[string]any{"image/png": map[string]any{"alt": h, "width": h}}}},
		)
		page := pageOf(t, Options{Name: h}, asProse, asCode, asRaw, outputs)
		if bad := harmfulIn(page); len(bad) > 0 {
			t.Errorf("%q leaves %q", h, bad)
		}
	}
	// The examination itself must find what it is meant to find.
	for _, h := range []string{"<script>X</script>", "<p onclick=X>", `<a href="javascript:X">`, `<img src="https://example.org/">`, "<style></style>"} {
		if len(harmfulIn("<style></style>"+h)) == 0 {
			t.Errorf("the examination does not see %q", h)
		}
	}
}

func TestMarkdown(t *testing.T) {
	tests := []struct{ name, source, want string }{
		{"heading", "# One two", `<h1 id="One-two">One two</h1>`},
		{"table", "|a|b|\n|-|-:|\n|1|2|", `<td style="text-align: right">2</td>`},
		{"task", "- [x] done", `<input checked="" disabled="" type="checkbox"/>`},
		{"folded", "<details><summary>Solution</summary>\n\n*x*\n\n</details>", "<summary>Solution</summary>\n<p><em>x</em></p>\n</details>"},
		{"formula", "so $f = z f_r$.", "<mi>f</mi><mo>=</mo><mi>z</mi><msub><mi>f</mi><mi>r</mi></msub>"},
		{"formula keeps Markdown's signs", "$a_1 * b_2 * c$", "<mo>∗</mo>"},
		{"block formula", "$$\nv\n= 2\\pi r f_r\n$$\nafter", `display="block"`},
		{"block formula with a list sign", "$$\na\n- b\n$$", "<mo>−</mo><mi>b</mi>"},
		{"formula in a quotation", "> $$\n> x\n> $$", `<math display="block"><semantics><mrow><mi>x</mi>`},
		{"two lines", "the sum $a +\nb$ is", "<mi>a</mi><mo>+</mo><mi>b</mi>"},
		{"environment", "\\begin{align}\na &= b\n\\end{align}", `<mtable class="aligned">`},
		{"unknown command", "$\\oddity{x}$", `<code class="tex">\oddity{x}</code>`},
		{"prices", "from $5 to $6", "<p>from $5 to $6</p>"},
		{"escaped", `\$5 and \$6$`, "<p>$5 and $6$</p>"},
		{"in code", "`$x$`", "<code>$x$</code>"},
		{"unclosed", "costs $x", "<p>costs $x</p>"},
		{"link", "[next](02-next.ipynb#Top)", `<a href="02-next.ipynb#Top"`},
		{"footnote", "a[^1]\n\n[^1]: note", `note`},
		{"far picture", "![a vane](https://example.org/a.png)", "[a vane (https://example.org/a.png: pictures from the network are not put into the page)]"},
		{"missing picture", "![a vane](vane.png)", "[a vane (vane.png: it is not part of this page)]"},
	}
	for _, test := range tests {
		if got := pageOf(t, Options{}, prose(test.source)); !strings.Contains(got, test.want) {
			_, body, _ := strings.Cut(got, "<main>")
			t.Errorf("%s: %q gives\n%s\nwithout %q", test.name, test.source, body, test.want)
		}
	}
	twice := pageOf(t, Options{}, prose("## Same"), prose("## Same"))
	if !strings.Contains(twice, `id="Same"`) || !strings.Contains(twice, `id="Same-2"`) {
		t.Error("equal headings in two cells do not get two names")
	}
}

func TestOutputs(t *testing.T) {
	wav := base64.StdEncoding.EncodeToString([]byte("RIFF"))
	withSize := display("image/png", dot)
	withSize.Bundle.Metadata = map[string]any{"image/png": map[string]any{"alt": "a dot"}}
	both := display("text/html", "<script>only a script</script>")
	both.Bundle.Data["image/png"] = dot
	tests := []struct {
		name string
		out  *notebook.Output
		want string
	}{
		{"stream", &notebook.Output{Kind: notebook.StreamOutput, Name: "stdout", Text: "a < b\n"}, `<pre class="out">a &lt; b</pre>`},
		{"colours", &notebook.Output{Kind: notebook.StreamOutput, Name: "stdout", Text: "\x1b[1;31mred\x1b[0m \x1b[2Kplain\x07"}, `<span class="bold c1">red</span> plain</pre>`},
		{"stderr is labelled", &notebook.Output{Kind: notebook.StreamOutput, Name: "stderr", Text: "w"}, "Message</p><pre>w</pre>"},
		{"error", &notebook.Output{Kind: notebook.ErrorOutput, ErrorName: "Panic", ErrorValue: "boom"}, "Error: Panic</p><pre>Panic: boom</pre>"},
		{"picture", display("image/png", dot), `<img src="data:image/png;base64,` + dot[:20]},
		{"words for a picture", display("image/png", dot), `alt="in words"`},
		{"own words for a picture", withSize, `alt="a dot"`},
		{"vector graphic", display("image/svg+xml", "<svg/>"), `<img src="data:image/svg+xml;base64,PHN2Zy8+"`},
		{"damaged picture", display("image/png", "%%%"), `<pre class="out">in words</pre>`},
		{"sound", display("audio/wav", wav), `<audio controls src="data:audio/wav;base64,UklGRg=="></audio><figcaption>in words</figcaption>`},
		{"sound in HTML", display("text/html", `<audio controls src="data:audio/wav;base64,UklGRg=="></audio>`), `<audio controls="" src="data:audio/wav;base64,UklGRg=="></audio>`},
		{"table", display("text/html", `<table><tr><td>1</td></tr></table>`), "<td>1</td>"},
		{"HTML that is only a script", both, `<img src="data:image/png`},
		{"Markdown", display("text/markdown", "**b**"), "<strong>b</strong>"},
		{"formula", display("text/latex", "$x^2$"), "<msup><mi>x</mi><mn>2</mn></msup>"},
		{"JSON", &notebook.Output{Kind: notebook.DisplayOutput, Bundle: cell.Bundle{Data: map[string]any{"application/json": map[string]any{"a": 1}}}}, "&#34;a&#34;: 1"},
	}
	for _, test := range tests {
		if got := pageOf(t, Options{}, showing(test.out)); !strings.Contains(got, test.want) {
			_, body, _ := strings.Cut(got, "<main>")
			t.Errorf("%s gives\n%s\nwithout %q", test.name, body, test.want)
		}
	}
}

func TestPictures(t *testing.T) {
	dir := t.TempDir()
	png, err := base64.StdEncoding.DecodeString(dot)
	if err != nil {
		t.Fatal(err)
	}
	for name, content := range map[string][]byte{
		"inside/vane.png": png, "inside/a b.png": png, "inside/drawing.svg": []byte("<svg/>"), "inside/notes.txt": []byte("secret"),
		"outside.png": png,
	} {
		name = filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(name), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, content, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Symlink("../outside.png", filepath.Join(dir, "inside/link.png")); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mkfifo(filepath.Join(dir, "inside/pipe.png"), 0o666); err != nil {
		t.Fatal(err)
	}
	folder, err := os.OpenRoot(filepath.Join(dir, "inside"))
	if err != nil {
		t.Fatal(err)
	}
	defer folder.Close()
	shown := []string{"vane.png", "./vane.png", "a%20b.png", "drawing.svg", "attachment:pasted.png"}
	hidden := []string{"../outside.png", "link.png", filepath.Join(dir, "outside.png"), "notes.txt", "pipe.png", ".", "none.png",
		"file:///etc/passwd", "//example.org/a.png", "attachment:other.png", "%zz"}
	for _, name := range append(shown, hidden...) {
		c := prose("![words](" + name + ")")
		c.Attachments = map[string]any{"pasted.png": map[string]any{"image/png": dot}}
		got := pageOf(t, Options{Folder: folder}, c)
		want := slices.Contains(shown, name)
		if has := strings.Contains(got, `src="data:image/`); has != want {
			t.Errorf("picture %q is in the page: %v, want %v", name, has, want)
		}
		if !want && !strings.Contains(got, "words") {
			t.Errorf("picture %q: its words are lost", name)
		}
	}
}

func TestHighlightKeepsTheCode(t *testing.T) {
	codes := []string{
		"", "x", "x := 5 // c\n/* b */", "fmt.Println(\"<&>\", 'x', 1.5e3i)", "`raw\r\nstring`\ny", "\"unclosed\nz", "é := \"\x00\"", "a @ b # c", "func f[T any](x T) {}", "x\n\n\n",
	}
	tags := regexp.MustCompile(`</?span[^>]*>`)
	for _, code := range codes {
		got := html.UnescapeString(tags.ReplaceAllString(highlightGo(code), ""))
		if got != code {
			t.Errorf("highlighting %q gives the text %q", code, got)
		}
	}
	want := `<span class="k">func</span> <span class="f">f</span>(x <span class="b">int</span>) { <span class="k">return</span> <span class="s">&#34;s&#34;</span> <span class="c">// c</span>`
	if got := highlightGo("func f(x int) { return \"s\" // c"); got != want {
		t.Errorf("highlighting gives\n%s, want\n%s", got, want)
	}
}

func TestPageFacts(t *testing.T) {
	got := pageOf(t, Options{Name: "a<b>.ipynb"}, prose("text\n# The *title* & more"), showing())
	for _, want := range []string{
		"<title>The title &amp; more</title>", "Made from a&lt;b&gt;.ipynb by rotorhum", `<html lang="en">`,
		`default-src 'none'`, `<span class="count">1</span>`,
	} {
		if !strings.Contains(got, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if again := pageOf(t, Options{Name: "a<b>.ipynb"}, prose("text\n# The *title* & more"), showing()); again != got {
		t.Error("printing the same notebook twice gives different pages")
	}
}

func TestPicturesKeepTheirWords(t *testing.T) {
	const alt = "Waveform of ../a b.wav from 0 s to 6 s; the largest sample is 0.6 (±2 %) of full scale."
	got := pageOf(t, Options{}, showing(display("text/html", `<div><img alt="`+alt+`" src="data:image/png;base64,`+dot+`"></div>`)))
	if !strings.Contains(got, `alt="`+alt+`"`) {
		t.Error("the page drops the words that stand for a picture in an output of HTML")
	}
}

// A solution is folded up with what it shows, and counted, since exercises name
// the first, the second ...; one that failed stays open.
func TestSolutionsAreFolded(t *testing.T) {
	solution := func(o *notebook.Output) *notebook.Cell {
		c := showing(o)
		c.Metadata = map[string]any{"tags": []any{notebook.SolutionTag}}
		return c
	}
	printed := func(text string) *notebook.Output {
		return &notebook.Output{Kind: notebook.StreamOutput, Name: "stdout", Text: text}
	}
	failed := &notebook.Output{Kind: notebook.ErrorOutput, ErrorName: "CheckError", ErrorValue: "no"}
	root, err := html.Parse(strings.NewReader(pageOf(t, Options{}, showing(printed("in the open")), solution(printed("one")), solution(failed))))
	if err != nil {
		t.Fatal(err)
	}
	text := func(n *html.Node) string {
		var b strings.Builder
		for d := range n.Descendants() {
			if d.Type == html.TextNode {
				b.WriteString(d.Data)
			}
		}
		return strings.Join(strings.Fields(b.String()), " ")
	}
	var got []string
	for n := range root.Descendants() {
		if n.Type == html.ElementNode && n.Data == "details" {
			got = append(got, fmt.Sprint(text(n), len(n.Attr)))
		}
	}
	want := []string{"Solution cell 1 1x one0", "Solution cell 2 1x Error: CheckErrorCheckError: no1"}
	if !slices.Equal(got, want) {
		t.Errorf("folded up are %q, want %q", got, want)
	}
}

func FuzzMath(f *testing.F) {
	for _, s := range []string{`\frac{a}{b}`, `\left( x_1^2 \right)'`, `\begin{cases} a & b \\ c \end{cases}`, `\sqrt[3]{x}`, `{{{`, `\`, `\text{é <}`, `a_`, `\\`} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, source string) {
		if bad := harmfulIn("<style></style>" + mathHTML(source, true)); len(bad) > 0 {
			t.Errorf("%q leaves %q", source, bad)
		}
	})
}
