package compare

import (
	"bytes"
	"fmt"
	"maps"
	"slices"
	"strings"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/notebook"
	"rotorhum/kernel/pattern"
)

// Options says what a comparison cannot read off the outputs. The zero value is
// ready to use.
type Options struct {
	// Versions are the names of versions that the stored outputs may hold, and
	// what stands in their place today.
	Versions Versions
	// Made is how the reports of this project name what makes them today, such
	// as "rotorhum 0.1.0, go1.26.8"; "" if they must not have changed.
	Made string
}

// Difference is one place in which two lists of outputs differ.
type Difference struct {
	// Output counts the cell's outputs from 1, Line the lines of its text from
	// 1; Line is 0 where there are no lines.
	Output, Line int
	// What is the output in words, such as "standard output" or "picture".
	What string
	// Stored and New are what stands there, shortened to the place in question;
	// both may be "", if Why says it all.
	Stored, New string
	// Why says more, such as how far out of tolerance a number is, or "".
	Why string
	// Runs: it is between two fresh runs, and Stored is of the first of them.
	Runs bool
}

// Outputs compares what a cell showed when it was stored with what it showed
// now. It tells also how many lines agree only because versions may change.
func Outputs(stored, fresh []*notebook.Output, s Statement, o Options) (differences []Difference, versions int) {
	c := &comparison{states: s, options: o}
	if s.Varies {
		return nil, 0
	}
	a, b := settled(stored), settled(fresh)
	for i := range max(len(a), len(b)) {
		switch {
		case i >= len(a):
			c.add(Difference{Output: i + 1, What: wordsFor(b[i]), Stored: missing, New: excerpt(firstLineOf(b[i]), "")})
		case i >= len(b):
			c.add(Difference{Output: i + 1, What: wordsFor(a[i]), Stored: excerpt(firstLineOf(a[i]), ""), New: missing})
		case a[i].Kind != b[i].Kind || a[i].Name != b[i].Name:
			c.add(Difference{Output: i + 1, What: "kind of output",
				Stored: wordsFor(a[i]) + ": " + excerpt(firstLineOf(a[i]), ""), New: wordsFor(b[i]) + ": " + excerpt(firstLineOf(b[i]), "")})
		default:
			c.output(i+1, a[i], b[i])
			continue
		}
		break // what follows has lost its counterpart
	}
	return c.found, c.versions
}

// comparison is one comparison under way.
type comparison struct {
	states   Statement
	options  Options
	found    []Difference
	versions int
}

func (c *comparison) add(d Difference) { c.found = append(c.found, d) }

// addText adds a difference of text, if there is one.
func (c *comparison) addText(output int, what string, d *textDifference) bool {
	if d != nil {
		c.add(Difference{Output: output, Line: d.line, What: what, Stored: d.stored, New: d.fresh, Why: d.why})
	}
	return d != nil
}

// settled brings outputs to the form in which `rotorhum run` stores them: front
// ends keep the carriage returns of a progress line, the pieces in which a
// stream arrived, and the empty display that a finished bar leaves.
func settled(outputs []*notebook.Output) []*notebook.Output {
	var kept []*notebook.Output
	for _, o := range outputs {
		if o.Kind == notebook.DisplayOutput && len(o.Bundle.Data) == 1 && o.Bundle.Data["text/plain"] == "" {
			continue
		}
		if o.Kind == notebook.StreamOutput {
			if n := len(kept); n > 0 && kept[n-1].Kind == o.Kind && kept[n-1].Name == o.Name {
				kept[n-1].Text += o.Text
				continue
			}
			o = &notebook.Output{Kind: o.Kind, Name: o.Name, Text: o.Text}
		}
		kept = append(kept, o)
	}
	for _, o := range kept {
		if o.Kind == notebook.StreamOutput {
			o.Text = notebook.Overwritten(o.Text)
		}
	}
	return kept
}

// wordsFor names an output.
func wordsFor(o *notebook.Output) string {
	switch o.Kind {
	case notebook.StreamOutput:
		return streamWords(o.Name)
	case notebook.ResultOutput:
		return "result"
	case notebook.ErrorOutput:
		return "error"
	}
	return "display"
}

func streamWords(name string) string {
	switch name {
	case "stdout":
		return "standard output"
	case "stderr":
		return "standard error"
	}
	return "stream " + name
}

// firstLineOf returns the first line of what an output says.
func firstLineOf(o *notebook.Output) string {
	text := o.Text
	switch o.Kind {
	case notebook.ErrorOutput:
		text = o.ErrorName + ": " + o.ErrorValue
	case notebook.DisplayOutput, notebook.ResultOutput:
		text, _ = o.Bundle.Data["text/plain"].(string)
	}
	first, _, _ := strings.Cut(strings.TrimLeft(text, "\n"), "\n")
	return first
}

// output compares two outputs of the same kind.
func (c *comparison) output(n int, stored, fresh *notebook.Output) {
	switch stored.Kind {
	case notebook.StreamOutput:
		c.addText(n, streamWords(stored.Name), c.compareText(stored.Text, fresh.Text))
	case notebook.ErrorOutput:
		a := stored.ErrorName + ": " + stored.ErrorValue
		b := fresh.ErrorName + ": " + fresh.ErrorValue
		if !c.addText(n, "error", c.compareText(a, b)) {
			c.addText(n, "traceback", c.compareText(uncoloured(stored.Traceback), uncoloured(fresh.Traceback)))
		}
	default:
		c.bundle(n, wordsFor(stored), stored.Bundle, fresh.Bundle)
	}
}

// colours matches the signs that colour a terminal.
var colours = pattern.New("\x1b\\[[0-9;]*m")

func uncoloured(lines []string) string {
	return colours.Regexp().ReplaceAllString(strings.Join(lines, "\n"), "")
}

// MeasureTolerance is the relative difference that is allowed to the numbers of
// a measurement stored for programs ([cell.MeasureType]). They are written to
// nine digits, which is far more than they are certain to, so that another
// processor may give other last ones.
const MeasureTolerance = 1e-6

// bundle compares two values in all their representations. Where the plain
// text differs, other text and JSON, which say the same once more, are left
// out.
func (c *comparison) bundle(n int, what string, stored, fresh cell.Bundle) {
	types := map[string]bool{}
	for mime := range stored.Data {
		types[mime] = true
	}
	for mime := range fresh.Data {
		types[mime] = true
	}
	const plainText = "text/plain"
	said := false
	for _, mime := range slices.SortedFunc(maps.Keys(types), func(a, b string) int {
		if a == plainText || b == plainText {
			return bool2int(b == plainText) - bool2int(a == plainText)
		}
		return strings.Compare(a, b)
	}) {
		a, okA := stored.Data[mime]
		b, okB := fresh.Data[mime]
		repeats := strings.HasPrefix(mime, "text/") || isJSON(mime)
		switch {
		case said && repeats:
		case !okA:
			c.add(Difference{Output: n, What: what + ", " + mime, Stored: missing, New: "a new representation"})
		case !okB:
			c.add(Difference{Output: n, What: what + ", " + mime, Stored: "a representation that is gone", New: missing})
		case c.content(n, what, mime, a, b):
			said = said || mime == plainText
		}
	}
	if said {
		return
	}
	a, b := map[string]any{}, map[string]any{}
	if stored.Metadata != nil {
		a = stored.Metadata
	}
	if fresh.Metadata != nil {
		b = fresh.Metadata
	}
	if d := c.compareJSON(plain(a), plain(b), "", c.states); d != nil {
		c.add(Difference{Output: n, What: what + ", its metadata " + d.at, Stored: d.stored, New: d.fresh, Why: d.why})
	}
}

func bool2int(b bool) int {
	if b {
		return 1
	}
	return 0
}

func isJSON(mime string) bool {
	return mime == "application/json" || strings.HasPrefix(mime, "application/") && strings.HasSuffix(mime, "+json")
}

// content compares one representation of a value; it reports whether a
// difference was found.
func (c *comparison) content(n int, what, mime string, stored, fresh any) bool {
	a, okA := stored.(string)
	b, okB := fresh.(string)
	if isJSON(mime) || !okA || !okB {
		states := c.states
		if mime == cell.MeasureType {
			states.Relative = max(states.Relative, MeasureTolerance)
		}
		d := c.compareJSON(plain(stored), plain(fresh), "", states)
		if d == nil {
			return false
		}
		c.add(Difference{Output: n, What: strings.TrimSpace(what + ", " + mime + " " + d.at), Stored: d.stored, New: d.fresh, Why: d.why})
		return true
	}
	switch {
	case mime == "text/plain":
		return c.addText(n, what, c.compareText(a, b))
	case mime == "text/html":
		return c.html(n, what, a, b)
	case mime == "image/svg+xml":
		return c.addText(n, what+", drawing", c.compareDrawing(a, b))
	case strings.HasPrefix(mime, "text/"):
		return c.addText(n, what+", "+mime, c.compareText(a, b))
	case strings.HasPrefix(mime, "image/"), strings.HasPrefix(mime, "audio/"), strings.HasPrefix(mime, "video/"), mime == "application/pdf":
		return c.media(n, what, mime, a, b)
	}
	return c.addText(n, what+", "+mime, c.compareText(a, b))
}

// media compares two pictures or sounds in base64.
func (c *comparison) media(n int, what, mime, stored, fresh string) bool {
	if stored == fresh {
		return false
	}
	why := ""
	switch mime {
	case "image/png", "image/jpeg", "image/webp":
		what += ", picture"
		why = c.samePicture(stored, fresh)
	default:
		what += ", " + mime
		why = sameBytes(stored, fresh)
	}
	if why == "" {
		return false
	}
	c.add(Difference{Output: n, What: what, Why: why})
	return true
}

// sameBytes returns "" if two texts in base64 stand for the same bytes.
func sameBytes(stored, fresh string) string {
	a, errA := unbase64(stored)
	b, errB := unbase64(fresh)
	switch {
	case errA != nil:
		return "what is stored is damaged: it is not base64"
	case errB != nil:
		return "what is new is damaged: it is not base64"
	case bytes.Equal(a, b):
		return ""
	}
	at := 0
	for at < len(a) && at < len(b) && a[at] == b[at] {
		at++
	}
	return fmt.Sprintf("%d bytes are stored, now there are %d; the first that differs is byte %d", len(a), len(b), at+1)
}
