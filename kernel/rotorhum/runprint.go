package main

import (
	"fmt"
	"io"
	"strings"
	"time"
	"unicode"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/notebook"
)

// runPrinter shows a notebook's run on a terminal: a line for each cell and,
// indented under it, what the cell showed.
type runPrinter struct {
	out   io.Writer
	quiet bool
	begun time.Time
}

// How much of one output is shown; the executed notebook holds it all.
const (
	maxLines = 40
	maxWidth = 200 // characters of a line
)

func (p *runPrinter) begin(name string) {
	p.begun = time.Now()
	if !p.quiet {
		fmt.Fprintf(p.out, "Running %s\n", name)
	}
}

func (p *runPrinter) started(c *notebook.Cell, number, of int) {
	if !p.quiet {
		fmt.Fprintf(p.out, "[%*d/%d] %s\n", len(fmt.Sprint(of)), number, of, firstLine(c.Source))
	}
}

func (p *runPrinter) ended(c *notebook.Cell, run notebook.CellRun) {
	if p.quiet && !run.Failed() {
		return
	}
	for _, o := range c.Outputs {
		p.output(o)
	}
	if run.Fault != nil && run.Planned {
		fmt.Fprintln(p.out, "      (this failure is planned)")
	}
	if run.Fault != nil && run.Fault.Name == notebook.FaultNoError {
		p.indented("!", run.Fault.Value)
	}
}

func (p *runPrinter) output(o *notebook.Output) {
	switch o.Kind {
	case notebook.StreamOutput:
		p.indented("|", o.Text)
	case notebook.ErrorOutput:
		text := strings.Join(o.Traceback, "\n")
		if strings.TrimSpace(text) == "" {
			text = o.ErrorName + ": " + o.ErrorValue
		}
		p.indented("!", text)
	default:
		p.bundle(o.Bundle)
	}
}

func (p *runPrinter) bundle(b cell.Bundle) {
	text, _ := b.Data["text/plain"].(string)
	for mime := range b.Data {
		kind, _, _ := strings.Cut(mime, "/")
		if kind == "image" || kind == "audio" {
			what := map[string]string{"image": "picture", "audio": "sound"}[kind]
			first, _, _ := strings.Cut(text, "\n")
			p.indented("|", "("+what+": "+shortened(first, maxWidth)+")")
			return
		}
	}
	p.indented("|", text)
}

func (p *runPrinter) indented(mark, text string) {
	lines := strings.Split(strings.TrimRight(text, "\n"), "\n")
	for i, line := range lines {
		if i == maxLines {
			fmt.Fprintf(p.out, "      %s … %d more lines in the executed notebook\n", mark, len(lines)-maxLines)
			break
		}
		fmt.Fprintf(p.out, "      %s %s\n", mark, shortened(line, maxWidth))
	}
}

func (p *runPrinter) finish(name string, res *notebook.Result, target runTarget) {
	if !p.quiet {
		fmt.Fprintf(p.out, "%s: %d cells in %.1f s\n", name, len(res.Runs), time.Since(p.begun).Seconds())
	}
	if res.Late > 0 {
		fmt.Fprintf(p.out, "  warning: goroutines printed %d times after their cell had ended; that output is not stored\n", res.Late)
	}
	fmt.Fprintf(p.out, "  executed notebook: %s\n", target.notebook)
	if target.page != "" {
		fmt.Fprintf(p.out, "  page for a browser: %s\n", target.page)
	}
}

// firstLine returns the first line of a cell's code, shortened: the first that
// is neither a comment nor an import, if there is one.
func firstLine(code string) string {
	first, imports := "", false
	for line := range strings.Lines(code) {
		line = strings.TrimSpace(line)
		if first == "" {
			first = line
		}
		switch {
		case imports:
			imports = line != ")"
		case line == "import (":
			imports = true
		case line != "" && !strings.HasPrefix(line, "//") && !strings.HasPrefix(line, "import "):
			return heading(line)
		}
	}
	return heading(first)
}

func heading(line string) string {
	r := []rune(terminalLine(line))
	if len(r) > 72 {
		return string(r[:71]) + "…"
	}
	return string(r)
}

// shortened returns a line fit for the terminal with at most n characters.
func shortened(line string, n int) string {
	r := []rune(terminalLine(line))
	if len(r) <= n {
		return string(r)
	}
	return fmt.Sprintf("%s… (%d more characters)", string(r[:n]), len(r)-n)
}

// terminalLine returns text without anything that would move the cursor or
// change colours: what a notebook prints must not command the terminal.
func terminalLine(text string) string {
	var out strings.Builder
	escape := false
	for _, r := range text {
		switch {
		case r == 0x1b:
			escape = true
		case escape && (r == '[' || r == ';' || unicode.IsDigit(r)):
		case escape:
			escape = false
		case r == '\t':
			out.WriteString("    ")
		case !unicode.IsControl(r) && !unicode.Is(unicode.Bidi_Control, r):
			out.WriteRune(r)
		}
	}
	return out.String()
}
