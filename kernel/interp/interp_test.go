package interp_test

import (
	"strings"
	"testing"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/interp"
)

// recorder is a cell.Sink that keeps what it is given.
type recorder struct {
	out, err strings.Builder
	shown    []cell.Bundle
	order    []string // one word per call, in order
}

func (r *recorder) Stream(name, text string) {
	if name == "stdout" {
		r.out.WriteString(text)
	} else {
		r.err.WriteString(text)
	}
	if n := len(r.order); n == 0 || r.order[n-1] != name {
		r.order = append(r.order, name)
	}
}
func (r *recorder) Display(b cell.Bundle, id string) {
	r.shown = append(r.shown, b)
	r.order = append(r.order, "display")
}
func (r *recorder) Update(b cell.Bundle, id string) { r.order = append(r.order, "update "+id) }
func (r *recorder) Clear(wait bool)                 { r.order = append(r.order, "clear") }
func (r *recorder) Page(b cell.Bundle)              { r.order = append(r.order, "page") }

// bench is an interpreter under test and its cell counter.
type bench struct {
	*interp.Interp
	t *testing.T
}

func start(t *testing.T) *bench {
	t.Helper()
	in, err := interp.New(interp.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(in.Close)
	return &bench{in, t}
}

// run runs a cell and returns what it showed and how it ended.
func (b *bench) run(code string) (*recorder, cell.Outcome) {
	r := &recorder{}
	return r, b.Run(cell.Request{Name: "In[1]", Code: code, Sink: r})
}

// must runs a cell that has to succeed and returns its printed text followed
// by its result.
func (b *bench) must(code string) string {
	b.t.Helper()
	r, o := b.run(code)
	if o.Fault != nil {
		b.t.Fatalf("cell failed:\n%s\n%s", code, strings.Join(o.Fault.Traceback, "\n"))
	}
	s := r.out.String()
	if o.Result != nil {
		s += o.Result.Data["text/plain"].(string)
	}
	return s
}

func TestStateIsKeptFromCellToCell(t *testing.T) {
	b := start(t)
	b.must("import \"fmt\"\nx := 3\nfunc twice(n int) int { return 2 * n }")
	if got, want := b.must("fmt.Println(\"x is\", x)\ntwice(x)"), "x is 3\n6"; got != want {
		t.Errorf("second cell showed %q, want %q", got, want)
	}
}

func TestCompileErrorLeavesStateAlone(t *testing.T) {
	b := start(t)
	b.must("x := 3")
	_, o := b.run("x := 4\ny := x + nowhere")
	if o.Fault == nil || o.Fault.Name != "CompileError" || o.Fault.Line != 2 {
		t.Fatalf("fault = %v, want a CompileError in line 2", o.Fault)
	}
	if got := b.must("x"); got != "3" {
		t.Errorf("x = %s after a cell that did not compile, want 3", got)
	}
}

func TestLastExpressionIsShown(t *testing.T) {
	b := start(t)
	b.must("import (\"math\"; \"errors\")\nx := 3\nm := map[string]int{\"a\": 1}\np := struct{ A int }{4}\nfor {\n\tbreak\n}")
	for _, c := range []struct{ code, want string }{
		{"x", "3"}, {"x + 1", "4"}, {"x+1 == 4", "true"}, {"(x * 2)", "6"}, {"-x", "-3"}, {"1 << 4", "16"}, {"1 + 1", "2"},
		{"\"a\" + \"b\"", "ab"}, {"p.A", "4"}, {"m[\"a\"]", "1"}, {"math.Pi", "3.141592653589793"}, {"math.Sqrt(16)", "4"},
		{"[]int{1, 2}[1:]", "[2]"}, {"func(n int) int { return n * n }(5)", "25"}, {"len(m)", "1"}, {"&p", "&{A: 4}"},
		{"x == 3 && len(m) > 0", "true"}, {"x;", ""}, {"x // a comment", "3"}, {"y := x", ""}, {"nil == errors.New(\"a\")", "false"},
		{"struct{ a, b int }{1, 2}", "{a:1 b:2}"}, {"float64(x) / 2", "1.5"}, {"[]int(nil)", "[]"}, {"'a'", "97"}, {"", ""}, {"// nothing", ""},
	} {
		if got := b.must(c.code); got != c.want {
			t.Errorf("%s showed %q, want %q", c.code, got, c.want)
		}
	}
}
