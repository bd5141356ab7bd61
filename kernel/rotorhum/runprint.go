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

// maxLines is how many lines of one output are shown; the executed notebook
// holds them all.
const maxLines = 40

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
			p.indented("|", "("+what+": "+firstLine(text)+")")
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
		fmt.Fprintf(p.out, "      %s %s\n", mark, terminalLine(line))
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

// firstLine returns the first line of text that says something, shortened; in
// code that is neither a comment nor an import, if there is such a line.
func firstLine(text string) string {
	line := ""
	for l := range strings.Lines(text) {
		l = strings.TrimSpace(l)
		if line == "" {
			line = l
		}
		if l != "" && !strings.HasPrefix(l, "//") && !strings.HasPrefix(l, "import ") {
			line = l
			break
		}
	}
	r := []rune(terminalLine(line))
	if len(r) > 72 {
		return string(r[:71]) + "…"
	}
	return string(r)
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
