package page

import (
	"bytes"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/parser"
	"github.com/yuin/goldmark/renderer"
	"github.com/yuin/goldmark/text"
	"github.com/yuin/goldmark/util"
)

// mathMark is the goldmark extension for formulas in Markdown, with the marks
// that notebooks use: $...$ in a line, $$...$$ and \begin{...}...\end{...} on
// lines of their own. A formula is printed as a mark that stands for it while
// the HTML around it is made harmless; see [formulas].
type mathMark struct{ formulas *formulas }

// Extend implements [goldmark.Extender].
func (m mathMark) Extend(md goldmark.Markdown) {
	md.Parser().AddOptions(
		parser.WithInlineParsers(util.Prioritized(inlineMath{}, 150)),
		parser.WithBlockParsers(util.Prioritized(blockMath{}, 690)),
	)
	md.Renderer().AddOptions(renderer.WithNodeRenderers(util.Prioritized(m, 500)))
}

var (
	kindInlineMath = ast.NewNodeKind("InlineMath")
	kindBlockMath  = ast.NewNodeKind("BlockMath")
)

type inlineMathNode struct {
	ast.BaseInline
	source  string
	display bool
}

func (n *inlineMathNode) Kind() ast.NodeKind { return kindInlineMath }
func (n *inlineMathNode) Dump(source []byte, level int) {
	ast.DumpHelper(n, source, level, nil, nil)
}

// inlineMath parses $...$ and $$...$$ inside a paragraph. As is common for
// Markdown, the opening $ has no space after it, the closing one no space
// before it and no digit after it, so that "$5 and $6" stays text.
type inlineMath struct{}

func (inlineMath) Trigger() []byte { return []byte{'$'} }

func (inlineMath) Parse(_ ast.Node, block text.Reader, _ parser.Context) ast.Node {
	line, start := block.Position()
	segment, _ := block.PeekLine()
	mark := []byte("$")
	if bytes.HasPrefix(segment, []byte("$$")) {
		mark = []byte("$$")
	}
	block.Advance(len(mark))
	var body bytes.Buffer
	for {
		segment, _ = block.PeekLine()
		if segment == nil {
			block.SetPosition(line, start)
			return nil
		}
		for i := 0; i < len(segment); i++ {
			if segment[i] == '\\' {
				i++
				continue
			}
			if !bytes.HasPrefix(segment[i:], mark) {
				continue
			}
			body.Write(segment[:i])
			after := segment[i+len(mark):]
			inner := body.Bytes()
			if len(mark) == 1 && !holdsFormula(inner, after) || len(bytes.TrimSpace(inner)) == 0 {
				block.SetPosition(line, start)
				return nil
			}
			block.Advance(i + len(mark))
			return &inlineMathNode{source: string(inner), display: len(mark) == 2}
		}
		body.Write(segment)
		block.AdvanceLine()
	}
}

func holdsFormula(inner, after []byte) bool {
	return len(inner) > 0 && !util.IsSpace(inner[0]) && !util.IsSpace(inner[len(inner)-1]) &&
		(len(after) == 0 || after[0] < '0' || after[0] > '9')
}

type blockMathNode struct {
	ast.BaseBlock
	end []byte
}

func (n *blockMathNode) Kind() ast.NodeKind { return kindBlockMath }
func (n *blockMathNode) IsRaw() bool        { return true }
func (n *blockMathNode) Dump(source []byte, level int) {
	ast.DumpHelper(n, source, level, nil, nil)
}

// blockMath parses formulas that begin a line with $$ or \begin{.
type blockMath struct{}

func (blockMath) Trigger() []byte { return []byte{'$', '\\'} }

func (blockMath) Open(_ ast.Node, reader text.Reader, _ parser.Context) (ast.Node, parser.State) {
	line, segment := reader.PeekLine()
	trimmed := bytes.TrimLeft(line, " \t")
	n := &blockMathNode{}
	switch {
	case bytes.HasPrefix(trimmed, []byte("$$")):
		n.end = []byte("$$")
		after := trimmed[2:]
		at := bytes.Index(after, n.end)
		if at >= 0 && len(bytes.TrimSpace(after[at+2:])) > 0 {
			return nil, parser.NoChildren // text follows: a formula in a line
		}
		segment = segment.WithStart(segment.Start + len(line) - len(trimmed) + 2)
		if at >= 0 {
			n.Lines().Append(segment.WithStop(segment.Start + at))
			n.end = nil
		} else {
			n.Lines().Append(segment)
		}
	case bytes.HasPrefix(trimmed, []byte(`\begin{`)):
		name, _, ok := bytes.Cut(trimmed[len(`\begin{`):], []byte("}"))
		if !ok {
			return nil, parser.NoChildren
		}
		n.end = append(append([]byte(`\end{`), name...), '}')
		n.Lines().Append(segment)
		if bytes.Contains(trimmed, n.end) {
			n.end = nil
		}
	default:
		return nil, parser.NoChildren
	}
	reader.AdvanceToEOL()
	return n, parser.NoChildren
}

func (blockMath) Continue(node ast.Node, reader text.Reader, _ parser.Context) parser.State {
	n := node.(*blockMathNode)
	if n.end == nil {
		return parser.Close
	}
	line, segment := reader.PeekLine()
	if line == nil {
		return parser.Close
	}
	if at := bytes.Index(line, n.end); at >= 0 {
		if string(n.end) != "$$" {
			at += len(n.end) // \end belongs to the formula
		}
		n.Lines().Append(segment.WithStop(segment.Start + at))
		n.end = nil
	} else {
		n.Lines().Append(segment)
	}
	reader.AdvanceToEOL()
	return parser.Continue | parser.NoChildren
}

func (blockMath) Close(ast.Node, text.Reader, parser.Context) {}
func (blockMath) CanInterruptParagraph() bool                 { return true }
func (blockMath) CanAcceptIndentedLine() bool                 { return false }

// RegisterFuncs implements [renderer.NodeRenderer].
func (m mathMark) RegisterFuncs(r renderer.NodeRendererFuncRegisterer) {
	r.Register(kindInlineMath, func(w util.BufWriter, _ []byte, node ast.Node, entering bool) (ast.WalkStatus, error) {
		if n := node.(*inlineMathNode); entering {
			w.WriteString(m.formulas.keep(n.source, n.display))
		}
		return ast.WalkContinue, nil
	})
	r.Register(kindBlockMath, func(w util.BufWriter, source []byte, node ast.Node, entering bool) (ast.WalkStatus, error) {
		if entering {
			formula := node.Lines().Value(source)
			w.WriteString("<p>" + m.formulas.keep(string(formula), true) + "</p>\n")
		}
		return ast.WalkContinue, nil
	})
}
