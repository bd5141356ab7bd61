package page

import (
	"bytes"
	_ "embed"
	"html/template"
	"os"
	"strings"
	"sync"

	"rotorhum/kernel/notebook"
)

//go:embed page.html
var skeleton string

//go:embed page.css
var style string

var page = sync.OnceValue(func() *template.Template { return template.Must(template.New("page").Parse(skeleton)) })

// Options says what a page cannot take from the notebook itself. The zero value
// is ready to use.
type Options struct {
	// Name is the notebook's file name, shown at the foot of the page.
	Name string
	// Folder is where pictures that Markdown cells name are found; nil means
	// they are not shown.
	Folder *os.Root
}

// block is one cell as the template prints it.
type block struct {
	Class   string // "prose", "raw" or "code"
	Prose   template.HTML
	Code    template.HTML
	Count   int
	Tags    []string
	Outputs []template.HTML
	// Solution counts the cells tagged solution from 1, so that exercises can
	// name them; 0 means that the cell is none.
	Solution int
	Open     bool // a solution that failed, or printed to stderr, is not folded up
}

type builder struct {
	markdown  markdown
	options   Options
	solutions int // how many solution cells came so far
}

// HTML returns nb as one HTML page.
func HTML(nb *notebook.Notebook, o Options) ([]byte, error) {
	b := &builder{markdown: markdown{headingNames{}}, options: o}
	var blocks []block
	for _, c := range nb.Cells {
		if strings.TrimSpace(c.Source) == "" && len(c.Outputs) == 0 {
			continue
		}
		blocks = append(blocks, b.block(c))
	}
	var out bytes.Buffer
	err := page().Execute(&out, map[string]any{
		"Title":  titleOf(nb, o.Name),
		"Name":   o.Name,
		"Style":  template.CSS(style),
		"Blocks": blocks,
	})
	return out.Bytes(), err
}

func (b *builder) block(c *notebook.Cell) block {
	switch c.Kind {
	case notebook.MarkdownCell:
		return block{Class: "prose", Prose: template.HTML(b.markdown.html(c.Source, picturesOf(c.Attachments, b.options.Folder)))}
	case notebook.RawCell:
		return block{Class: "raw", Code: template.HTML(escapeText(c.Source))}
	}
	k := block{Class: "code", Code: template.HTML(highlightGo(strings.TrimRight(c.Source, "\n"))), Count: c.Count}
	for _, t := range c.Tags() {
		switch t {
		case notebook.SolutionTag:
			if k.Solution == 0 {
				b.solutions++
				k.Solution = b.solutions
			}
		case notebook.ParametersTag, notebook.InjectedTag, notebook.RaisesError, notebook.RaisesException:
			k.Tags = append(k.Tags, tagWords[t])
		}
	}
	for _, o := range c.Outputs {
		k.Open = k.Open || o.Kind == notebook.ErrorOutput || o.Name == "stderr"
		if h := b.outputHTML(o); h != "" {
			k.Outputs = append(k.Outputs, template.HTML(h))
		}
	}
	return k
}

// tagWords says in words what a tag means to a reader.
var tagWords = map[string]string{
	notebook.ParametersTag:   "parameters",
	notebook.InjectedTag:     "set for this run",
	notebook.RaisesError:     "meant to fail",
	notebook.RaisesException: "may fail",
}

// titleOf returns the notebook's first heading, else its title in metadata,
// else its file name.
func titleOf(nb *notebook.Notebook, name string) string {
	for _, c := range nb.Cells {
		if c.Kind != notebook.MarkdownCell {
			continue
		}
		for line := range strings.Lines(c.Source) {
			if heading, ok := strings.CutPrefix(line, "# "); ok {
				return strings.TrimSpace(strings.NewReplacer("*", "", "`", "", "$", "").Replace(heading))
			}
		}
	}
	if title, ok := nb.Metadata["title"].(string); ok && title != "" {
		return title
	}
	if name != "" {
		return strings.TrimSuffix(name, ".ipynb")
	}
	return "Notebook"
}
