package page

import (
	"html"
	"strings"
	"unicode"
	"unicode/utf8"
)

// mathHTML returns a formula written in LaTeX as HTML: as MathML where it
// keeps to the part of the language known here (what school and handbook
// formulas need), else as its own source, set apart.
func mathHTML(source string, display bool) string {
	source = strings.TrimSpace(source)
	p := texParser{rest: source}
	body := p.row("")
	if p.failed || p.rest != "" || len(source) > maxFormula {
		class := "tex"
		if display {
			class = "tex display"
		}
		return `<code class="` + class + `">` + html.EscapeString(source) + `</code>`
	}
	mode := ""
	if display {
		mode = ` display="block"`
	}
	return `<math` + mode + `><semantics><mrow>` + body + `</mrow><annotation encoding="application/x-tex">` +
		html.EscapeString(source) + `</annotation></semantics></math>`
}

const (
	maxFormula = 10_000 // bytes of a formula worth laying out
	maxNesting = 40     // groups inside each other
)

// texParser turns LaTeX into presentation MathML by recursive descent. failed
// says that something was not understood.
type texParser struct {
	rest   string
	depth  int
	failed bool
}

// row parses until the given end ("}", "&", `\right`, `\end`, or "" for the end
// of the text), which it leaves in place. A row inside an environment also ends
// at & and \\.
func (p *texParser) row(end string) string {
	if p.depth++; p.depth > maxNesting {
		p.failed = true
	}
	defer func() { p.depth-- }()
	var out strings.Builder
	for !p.failed {
		p.space()
		if p.rest == "" {
			if end != "" {
				p.failed = true
			}
			break
		}
		if p.atEnd(end) {
			break
		}
		out.WriteString(p.scripted())
	}
	return out.String()
}

func (p *texParser) atEnd(end string) bool {
	switch end {
	case "":
		return false
	case "&":
		return p.rest[0] == '&' || strings.HasPrefix(p.rest, `\\`) || p.atCommand("end")
	case "}":
		return p.rest[0] == '}'
	case "]":
		return p.rest[0] == ']'
	}
	return p.atCommand(end)
}

func (p *texParser) atCommand(name string) bool {
	after, ok := strings.CutPrefix(p.rest, `\`+name)
	return ok && (after == "" || !isLetter(after[0]))
}

func (p *texParser) space() {
	p.rest = strings.TrimLeft(p.rest, " \t\r\n~")
}

// scripted parses one item with the sub- and superscripts that follow it.
func (p *texParser) scripted() string {
	base, limits := p.item()
	sub, sup := "", ""
	for !p.failed {
		p.space()
		switch {
		case strings.HasPrefix(p.rest, "_") && sub == "":
			p.rest = p.rest[1:]
			sub = p.argument()
			continue
		case strings.HasPrefix(p.rest, "^") && sup == "":
			p.rest = p.rest[1:]
			sup = p.argument()
			continue
		case strings.HasPrefix(p.rest, "'") && sup == "":
			n := len(p.rest) - len(strings.TrimLeft(p.rest, "'"))
			p.rest = p.rest[n:]
			sup = "<mo>" + strings.Repeat("′", n) + "</mo>"
			continue
		}
		break
	}
	over, under, both := "msup", "msub", "msubsup"
	if limits {
		over, under, both = "mover", "munder", "munderover"
	}
	switch {
	case sub != "" && sup != "":
		return element(both, base+sub+sup)
	case sub != "":
		return element(under, base+sub)
	case sup != "":
		return element(over, base+sup)
	}
	return base
}

// argument parses what a command or a script applies to: a group or one item.
func (p *texParser) argument() string {
	p.space()
	if p.rest == "" {
		p.failed = true
		return ""
	}
	body, _ := p.item()
	return body
}

// item parses one unit. limits says that scripts stand above and below it.
func (p *texParser) item() (body string, limits bool) {
	if p.rest == "" {
		p.failed = true
		return "", false
	}
	switch c := p.rest[0]; {
	case c == '{':
		p.rest = p.rest[1:]
		body := p.row("}")
		p.take("}")
		return element("mrow", body), false
	case c == '\\':
		return p.command()
	case c == '}' || c == '&' || c == '$' || c == '#' || c == '_' || c == '^' || c == '%':
		p.failed = true
		return "", false
	case isDigit(c) || c == '.' && len(p.rest) > 1 && isDigit(p.rest[1]):
		n := 0
		for n < len(p.rest) && (isDigit(p.rest[n]) || (p.rest[n] == '.' || p.rest[n] == ',') && n+1 < len(p.rest) && isDigit(p.rest[n+1])) {
			n++
		}
		number := p.rest[:n]
		p.rest = p.rest[n:]
		return element("mn", number), false
	}
	r, size := utf8.DecodeRuneInString(p.rest)
	p.rest = p.rest[size:]
	switch {
	case unicode.IsLetter(r):
		return element("mi", string(r)), false
	case r == '-':
		return "<mo>−</mo>", false
	case r == '*':
		return "<mo>∗</mo>", false
	}
	return element("mo", html.EscapeString(string(r))), false
}

// take removes the expected text or fails.
func (p *texParser) take(want string) {
	rest, ok := strings.CutPrefix(p.rest, want)
	p.failed = p.failed || !ok
	p.rest = rest
}

// raw takes a braced argument as it stands.
func (p *texParser) raw() string {
	p.space()
	end := strings.IndexByte(p.rest, '}')
	if !strings.HasPrefix(p.rest, "{") || end < 0 || strings.ContainsAny(p.rest[1:end], `{\$`) {
		p.failed = true
		return ""
	}
	text := p.rest[1:end]
	p.rest = p.rest[end+1:]
	return html.EscapeString(text)
}

func (p *texParser) commandName() string {
	p.rest = p.rest[1:]
	if p.rest == "" {
		p.failed = true
		return ""
	}
	n := 0
	for n < len(p.rest) && isLetter(p.rest[n]) {
		n++
	}
	if n == 0 {
		_, n = utf8.DecodeRuneInString(p.rest)
	}
	name := p.rest[:n]
	p.rest = p.rest[n:]
	return name
}

func (p *texParser) command() (body string, limits bool) {
	name := p.commandName()
	if s, ok := texLetters[name]; ok {
		return element("mi", s), false
	}
	if s, ok := texOperators[name]; ok {
		return element("mo", s), false
	}
	if s, ok := texLarge[name]; ok {
		return element("mo", s), true
	}
	if s, ok := texAccents[name]; ok {
		return `<mover accent="true">` + p.argument() + element("mo", s) + "</mover>", false
	}
	if w, ok := texSpaces[name]; ok {
		return `<mspace width="` + w + `"/>`, false
	}
	if texFunctions[name] {
		return element("mi", name) + "<mo>&#8289;</mo>", name == "lim" || name == "max" || name == "min"
	}
	switch name {
	case "frac", "dfrac", "tfrac":
		return element("mfrac", p.argument()+p.argument()), false
	case "binom":
		return `<mrow><mo>(</mo><mfrac linethickness="0">` + p.argument() + p.argument() + "</mfrac><mo>)</mo></mrow>", false
	case "sqrt":
		p.space()
		if strings.HasPrefix(p.rest, "[") {
			p.rest = p.rest[1:]
			index := element("mrow", p.row("]"))
			p.take("]")
			return element("mroot", p.argument()+index), false
		}
		return element("msqrt", p.argument()), false
	case "text", "textrm", "mbox", "textit", "textbf":
		// Spaces at the ends of a text element count for nothing unless they
		// are no-break spaces.
		return element("mtext", strings.ReplaceAll(p.raw(), " ", "\u00a0")), false
	case "mathrm", "operatorname", "mathsf":
		return `<mi mathvariant="normal">` + p.raw() + "</mi>", false
	case "mathbf", "boldsymbol", "mathit", "mathbb", "mathcal":
		return element("mrow", p.argument()), false
	case "overline":
		return "<mover>" + p.argument() + "<mo>‾</mo></mover>", false
	case "underline":
		return "<munder>" + p.argument() + "<mo>_</mo></munder>", false
	case "underbrace":
		return "<munder>" + p.argument() + "<mo>⏟</mo></munder>", true
	case "left":
		open := p.delimiter()
		body := p.row("right")
		p.take(`\right`)
		return element("mrow", open+body+p.delimiter()), false
	case "big", "Big", "bigg", "Bigg", "bigl", "bigr", "Bigl", "Bigr":
		return p.delimiter(), false
	case "begin":
		return p.environment(), false
	case "displaystyle", "textstyle", "limits", "nolimits", "nonumber", "notag":
		return "", false
	case "label", "tag":
		p.raw()
		return "", false
	}
	p.failed = true
	return "", false
}

// delimiter parses the bracket after \left, \right and their like.
func (p *texParser) delimiter() string {
	p.space()
	if p.rest == "" {
		p.failed = true
		return ""
	}
	if p.rest[0] == '\\' {
		s, ok := texOperators[p.commandName()]
		p.failed = p.failed || !ok
		return element("mo", s)
	}
	r, size := utf8.DecodeRuneInString(p.rest)
	p.rest = p.rest[size:]
	switch {
	case r == '.':
		return ""
	case strings.ContainsRune("()[]|/<>", r):
		return element("mo", html.EscapeString(string(r)))
	}
	p.failed = true
	return ""
}

// texFences gives the brackets of each environment that makes a table.
var texFences = map[string][2]string{
	"aligned": {}, "align": {}, "align*": {}, "equation": {}, "equation*": {}, "gather": {}, "gather*": {},
	"split": {}, "array": {}, "matrix": {}, "pmatrix": {"(", ")"}, "bmatrix": {"[", "]"}, "cases": {"{", ""},
}

// environment parses from the name after \begin through the matching \end.
func (p *texParser) environment() string {
	name := p.raw()
	fences, ok := texFences[name]
	if !ok {
		p.failed = true
	}
	if name == "array" {
		p.raw() // column alignment
	}
	var rows strings.Builder
	for !p.failed {
		var cells strings.Builder
		for !p.failed {
			cells.WriteString(element("mtd", p.row("&")))
			if !strings.HasPrefix(p.rest, "&") {
				break
			}
			p.rest = p.rest[1:]
		}
		rows.WriteString(element("mtr", cells.String()))
		if !strings.HasPrefix(p.rest, `\\`) {
			break
		}
		p.rest = p.rest[2:]
		p.space()
		if p.atCommand("end") {
			break
		}
	}
	p.take(`\end`)
	p.failed = p.failed || p.raw() != name
	class := ""
	if strings.HasPrefix(name, "align") || name == "split" {
		class = ` class="aligned"`
	}
	table := "<mtable" + class + ">" + rows.String() + "</mtable>"
	for i, fence := range fences {
		if fence != "" && i == 0 {
			table = "<mo>" + fence + "</mo>" + table
		} else if fence != "" {
			table += "<mo>" + fence + "</mo>"
		}
	}
	return element("mrow", table)
}

func element(name, body string) string { return "<" + name + ">" + body + "</" + name + ">" }

func isLetter(c byte) bool { return 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' }
func isDigit(c byte) bool  { return '0' <= c && c <= '9' }
