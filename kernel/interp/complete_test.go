package interp_test

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"rotorhum/kernel/bindings"
	"rotorhum/kernel/cell"
	"rotorhum/kernel/interp"
)

// startDocumented is start with the tables of package bindings.
func startDocumented(t *testing.T) *bench {
	t.Helper()
	in, err := interp.New(interp.Options{Docs: new(bindings.Docs).Find})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(in.Close)
	b := &bench{in, t}
	b.must(`import ("fmt"; "math"; "strings"; "gonum.org/v1/plot"; "gonum.org/v1/gonum/stat"; "os"; "slices")

// Blade is one of the vanes of the whirligig.
type Blade struct {
	Length float64 // m
	Tip    point
	secret int
}

type point struct{ x, Y float64 }

// Lift is how much the blade rises.
func (b Blade) Lift(speed float64) float64 { return b.Length * speed }
func (p *point) move(dx float64) { p.x += dx }

// twirl counts turns.
func twirl(n int, name string) (turns int) { return n }

blade := Blade{Length: 0.06}
blades := []Blade{blade, {Length: 2}}
byName := map[string]*Blade{"a": &blades[0]}
const bladeCount = 5
p := plot.New()
var e error
`)
	return b
}

func TestComplete(t *testing.T) {
	b := startDocumented(t)
	for _, c := range []struct {
		code string // the cursor is at |
		want string // matches as text:kind, "..." for more
	}{
		{"blad|", "blade:variable bladeCount:constant blades:variable"},
		{"x := Bl|", "Blade:type"},
		{"blade.|", "Length:field Lift:method Tip:field secret:field"},
		{"blade.L|", "Length:field Lift:method"},
		{"blade.l|", "Length:field Lift:method"},
		{"blade.Tip.|", "Y:field move:method x:field"},
		{"blades[0].Tip.m|", "move:method"},
		{"byName[\"a\"].Li|", "Lift:method"},
		{"(&blade).Li|", "Lift:method"},
		{"Blade{}.Li|", "Lift:method"},
		{"fmt.Println(blade.Tip.|", "Y:field move:method x:field"},
		{"if blade.Len|", "Length:field"},
		{"for i := 0; i < blade.Le|", "Length:field"},
		{"for _, q := range blades {\n\tq.Ti|", "Tip:field"},
		{"func f(arg Blade) {\n\tlocal := arg.Tip\n\tloc|\n}", "local:variable"},
		{"func f(arg Blade) float64 {\n\treturn arg.Len|", "Length:field"},
		{"func(arg int) { ar|", "arg:variable"},
		{"switch b := any(blade).(type) {\ncase Blade:\n\tb.Len|", "Length:field"},
		{"y := strings.Split(\"a\", \",\")\nz := y[0]\nz|", "z:variable"},
		{"math.Sqr|", "Sqrt:function Sqrt2:constant SqrtE:constant SqrtPhi:constant SqrtPi:constant"},
		{"math.Max(math.Sqr|", "Sqrt:function Sqrt2:constant SqrtE:constant SqrtPhi:constant SqrtPi:constant"},
		{"strings.Buil|", "Builder:type"},
		{"var sb strings.Builder\nsb.WriteS|", "WriteString:method"},
		{"strings.NewReader(\"x\").ReadR|", "ReadRune:method"},
		{"p.X.Label.Te|", "Text:field TextStyle:field"},
		{"p.X.Label.TextStyle.Fon|", "Font:field FontExtents:method"},
		{"plot.New().Tit|", "Title:field"},
		{"e.|", "Error:method"},
		{"Blade{Le|", "Length:field"},
		{"Blade{Length: 1, T|", "Tip:field"},
		{"Blade{Length: blad|", "blade:variable bladeCount:constant blades:variable"},
		{"[]Blade{{Le|", "Length:field"},
		{"stat.Mea|", "Mean:function MeanStdDev:function MeanVariance:function"},
		{"slices.So|", "Sort:function SortFunc:function SortStableFunc:function Sorted:function"},
		{"twi|", "twirl:function"},
		{"mus|", "must:function"},
		{"displ|", "display:function displayAs:function"},
		{"fallt|", "fallthrough:keyword"},
		{"float6|", "float64:type"},
		{"os.Args[0].|", ""},
		{"nothing.|", ""},
		{"3.|", ""},
		{"// blad|", "blade:variable bladeCount:constant blades:variable"},
		{"\"blad|", ""},
		{"import \"math/cm|", "math/cmplx:package"},
		{"import (\n\t\"fmt\"\n\t\"gonum.org/v1/gonum/dsp/|", "gonum.org/v1/gonum/dsp/fourier:package gonum.org/v1/gonum/dsp/window:package"},
		{"é := 1\néa := 2\né|", "é:variable éa:variable"},
	} {
		pos := strings.Index(c.code, "|")
		got := b.Complete(strings.Replace(c.code, "|", "", 1), pos)
		var texts []string
		for _, m := range got.Matches {
			texts = append(texts, m.Text+":"+m.Kind)
		}
		if c.want == "" && len(texts) == 0 {
			continue
		}
		if s := strings.Join(texts, " "); s != c.want && !strings.HasPrefix(c.code, "//") {
			t.Errorf("%q: %s, want %s", c.code, s, c.want)
		}
	}
}

func TestCompletionsReplaceTheWord(t *testing.T) {
	b := startDocumented(t)
	code := "x := é + blade.Len // more"
	got := b.Complete(code, strings.Index(code, " //"))
	if got.Start != strings.Index(code, "Len") || got.End != strings.Index(code, " //") || len(got.Matches) != 1 {
		t.Errorf("Complete = %+v, want Length for the bytes of Len", got)
	}
}

func TestCompletionSignatures(t *testing.T) {
	b := startDocumented(t)
	for _, c := range []struct{ code, name, want string }{
		{"math.Sqr", "Sqrt", "func Sqrt(x float64) float64"},
		{"math.P", "Pi", "const Pi untyped float = 3.14159"},
		{"blade.L", "Lift", "func (b Blade) Lift(speed float64) float64"},
		{"blade.L", "Length", "field Length float64"},
		{"twi", "twirl", "func twirl(n int, name string) (turns int)"},
		{"blade", "blade", "var blade Blade"},
		{"Bla", "Blade", "type Blade struct {…}"},
		{"p.", "Draw", "func (p *Plot) Draw(c draw.Canvas)"},
		{"p.", "X", "field X Axis"},
		{"appe", "append", "func append(slice []T, elems ...T) []T"},
		{"mus", "must", "func must[T any](v T, err error) T"},
		{"fm", "fmt", `"fmt"`},
	} {
		got := b.Complete(c.code, len(c.code))
		i := slices.IndexFunc(got.Matches, func(m cell.Match) bool { return m.Text == c.name })
		if i < 0 {
			t.Errorf("%q: no %s among %v", c.code, c.name, got.Matches)
		} else if s := got.Matches[i].Signature; !strings.HasPrefix(s, c.want) {
			t.Errorf("%q: signature %q, want %q", c.code, s, c.want)
		}
	}
}

func TestFileNamesComplete(t *testing.T) {
	b := startDocumented(t)
	dir := t.TempDir()
	for _, name := range []string{"spin-up.wav", "spin-down.wav", "notes.txt"} {
		if err := os.WriteFile(filepath.Join(dir, name), nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	code := "os.Open(\"" + dir + "/spin"
	got := b.Complete(code, len(code))
	if len(got.Matches) != 2 || got.Matches[0].Text != dir+"/spin-down.wav" || got.Start != len("os.Open(\"") {
		t.Errorf("Complete(%q) = %+v", code, got)
	}
}

func TestCompleteSurvivesAnything(t *testing.T) {
	b := startDocumented(t)
	for _, code := range []string{"", "(", ")", "}", "func", "func (", "\"", "`", "/*", "'", "a.b.c.", "if", "for {", "x := [", "\xff\xfe", "type T struct {", "go ", "defer", "switch x.(type) {", "...", "blade.(", "&", "*", "import", "import \"", "éé"} {
		for pos := -1; pos <= len(code)+1; pos++ {
			b.Complete(code, pos)
			b.Inspect(code, pos, 1)
			b.IsComplete(code)
		}
	}
}
