package interp_test

import (
	"strings"
	"testing"
)

func TestInspect(t *testing.T) {
	b := startDocumented(t)
	for _, c := range []struct {
		code string // the cursor is at |
		want string // all lines must occur
	}{
		{"math.Sq|rt(2)", "func Sqrt(x float64) float64\ngo doc math.Sqrt\npackage math"},
		{"math.Sqrt(|", "func Sqrt(x float64) float64"},
		{"fmt.Println(math.Max(1, |", "func Max(x, y float64) float64"},
		{"ma|th.Sqrt(2)", "package math"},
		{"bla|de", "var blade Blade\nvalue: {Length:0.06 Tip:{x:0 Y:0} secret:0}\nBlade is one of the vanes"},
		{"blades|", "var blades []Blade\nshape: 2"},
		{"Blad|e", "type Blade struct {\nLength float64 // m\nBlade is one of the vanes of the whirligig."},
		{"blade.Lif|t(3)", "func (b Blade) Lift(speed float64) float64\nLift is how much the blade rises."},
		{"blade.Len|gth", "field Length float64"},
		{"blades[0].Tip.mo|ve", "func (p *point) move(dx float64)"},
		{"twirl(3, |", "func twirl(n int, name string) (turns int)\ntwirl counts turns."},
		{"bladeCount|", "const bladeCount untyped int = 5"},
		{"p.X.Lab|el", "field Label"},
		{"p.Dra|w", "func (p *Plot) Draw(c draw.Canvas)"},
		{"strings.Builder|", "type Builder struct {\ngo doc strings.Builder"},
		{"var sb strings.Builder\nsb.Write|String(\"x\")", "func (b *Builder) WriteString(s string) (int, error)"},
		{"must|(os.Open(\"x\"))", "func must[T any](v T, err error) T\nmust returns v if err is nil"},
		{"append|(blades, blade)", "func append(slice []T, elems ...T) []T\nappend adds elements"},
		{"Blade{Len|gth: 1}", "field Length float64"},
		{"stat.Me|an", "func Mean(x, weights []float64) float64\ngo doc gonum.org/v1/gonum/stat.Mean"},
		{"local := 3\nfmt.Println(loc|al)", "var local int"},
		{"err|or", "type error interface"},
		{"nonsense|", ""},
		{"math.Nonsense|", ""},
		{"1 + |", ""},
	} {
		pos := strings.Index(c.code, "|")
		got, ok := b.Inspect(strings.Replace(c.code, "|", "", 1), pos, 0)
		if c.want == "" {
			if ok {
				t.Errorf("%q: described as %v", c.code, got.Data)
			}
			continue
		}
		text, _ := got.Data["text/plain"].(string)
		for _, line := range strings.Split(c.want, "\n") {
			if !ok || !strings.Contains(text, line) {
				t.Errorf("%q: no %q in\n%s", c.code, line, text)
				break
			}
		}
	}
}

func TestInspectInMoreDetail(t *testing.T) {
	b := startDocumented(t)
	for _, c := range []struct{ code, want string }{
		{"twirl", "func twirl(n int, name string) (turns int) { return n }"},
		{"Blade", "func (b Blade) Lift(speed float64) float64"},
		{"fmt", "func Println(a ...any) (n int, err error)"},
		{"blade.Lift", "{ return b.Length * speed }"},
	} {
		brief, _ := b.Inspect(c.code, len(c.code), 0)
		full, ok := b.Inspect(c.code, len(c.code), 1)
		if !ok || !strings.Contains(full.Data["text/plain"].(string), c.want) {
			t.Errorf("%s in full:\n%v\nlacks %q", c.code, full.Data["text/plain"], c.want)
		}
		if strings.Contains(brief.Data["text/plain"].(string), c.want) && c.code != "Blade" {
			t.Errorf("%s in brief has %q already", c.code, c.want)
		}
	}
}

func TestInspectShowsTheValueOfNow(t *testing.T) {
	b := startDocumented(t)
	b.must("xs := make([]float64, 1000)")
	got, _ := b.Inspect("xs", 2, 0)
	if s := got.Data["text/plain"].(string); !strings.Contains(s, "shape: 1000") || !strings.Contains(s, "…") {
		t.Errorf("xs is described as %s", s)
	}
	b.must("xs = []float64{4}")
	got, _ = b.Inspect("xs", 2, 0)
	if s := got.Data["text/plain"].(string); !strings.Contains(s, "value: [4]") {
		t.Errorf("xs is described as %s", s)
	}
	b.must("xs := \"text\"")
	got, _ = b.Inspect("xs", 2, 0)
	if s := got.Data["text/plain"].(string); !strings.Contains(s, "var xs string\n\nvalue: text") {
		t.Errorf("xs is described as %s", s)
	}
}

func TestIsComplete(t *testing.T) {
	b := start(t)
	for _, c := range []struct{ code, status, indent string }{
		{"", "complete", ""},
		{"x := 1", "complete", ""},
		{"fmt.Println(1)\n", "complete", ""},
		{"func f() int {\n\treturn 1\n}", "complete", ""},
		{"if x {\n} else {\n}", "complete", ""},
		{"import \"fmt\"\nfmt.Println()", "complete", ""},
		{"// a comment", "complete", ""},
		{"x := 1 +", "incomplete", ""},
		{"for i := range 3 {", "incomplete", "\t"},
		{"for i := range 3 {\n\tif i > 1 {", "incomplete", "\t\t"},
		{"for i := range 3 {\n\tif i > 1 {\n\t}", "incomplete", "\t"},
		{"fmt.Println(1,", "incomplete", "\t"},
		{"f(func() {", "incomplete", "\t"},
		{"x := []int{\n\t1,", "incomplete", "\t"},
		{"s := `one\ntwo", "incomplete", ""},
		{"/* never", "incomplete", ""},
		{"import (", "incomplete", "\t"},
		{"type T struct {", "incomplete", "\t"},
		{"func f()", "complete", ""},
		{"x :=", "incomplete", ""},
		{"if x", "incomplete", ""},
		{"for i := 0; i < 3; i++", "incomplete", ""},
		{")", "invalid", ""},
		{"x := ]", "invalid", ""},
		{"s := \"open", "invalid", ""},
		{"x = = 3", "invalid", ""},
		{"func 3() {}", "invalid", ""},
		{"if { }", "invalid", ""},
	} {
		status, indent := b.IsComplete(c.code)
		if status != c.status || indent != c.indent {
			t.Errorf("IsComplete(%q) = %q, %q, want %q, %q", c.code, status, indent, c.status, c.indent)
		}
	}
}
