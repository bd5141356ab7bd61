package show_test

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"reflect"
	"strings"
	"testing"
	"unicode/utf8"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/show"
)

type rich struct{}

func (rich) HTML() string              { return "<b>five</b>" }
func (rich) Markdown() (string, error) { return "**five**", nil }
func (rich) Latex() string             { return "$5$" }
func (rich) JSON() map[string]any      { return map[string]any{"n": 5} }
func (rich) String() string            { return "five" }

type drawn struct{ err error }

func (d drawn) SVG() ([]byte, error) { return []byte("<svg/>"), nil }
func (d drawn) PNG() ([]byte, error) { return dot(4, 2), d.err }
func (d drawn) Size() (int, int)     { return 2, 1 }
func (d drawn) String() string       { return "a dot" }

type onlySVG struct{}

func (onlySVG) SVG() string { return "<svg/>" }

type broken struct{}

func (broken) HTML() string { panic("no ink") }

type rendered struct{}

func (rendered) Render() struct {
	Data, Metadata map[string]any
} {
	return struct{ Data, Metadata map[string]any }{
		map[string]any{"text/html": "<i>x</i>"}, map[string]any{"text/html": map[string]any{"isolated": true}},
	}
}

type simple struct{}

func (simple) SimpleRender() map[string]any { return map[string]any{"text/latex": "$x$"} }

// takesArgument has a method of the right name and the wrong shape.
type takesArgument struct{ N int }

func (takesArgument) HTML(title string) string { return title }

func dot(w, h int) []byte {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	img.Set(0, 0, color.White)
	var b bytes.Buffer
	png.Encode(&b, img)
	return b.Bytes()
}

func bundle(t *testing.T, v any) cell.Bundle {
	t.Helper()
	b, err := show.Bundle(v)
	if err != nil {
		t.Fatalf("Bundle(%T): %v", v, err)
	}
	if s, ok := b.Data["text/plain"].(string); !ok || !utf8.ValidString(s) {
		t.Fatalf("Bundle(%T) has text/plain %q", v, b.Data["text/plain"])
	}
	if _, err := json.Marshal(b); err != nil {
		t.Fatalf("Bundle(%T) cannot be sent: %v", v, err)
	}
	return b
}

func TestMethodsGiveRepresentations(t *testing.T) {
	dot42 := base64.StdEncoding.EncodeToString(dot(4, 2))
	for _, c := range []struct {
		v    any
		want map[string]any
	}{
		{rich{}, map[string]any{"text/plain": "five", "text/html": "<b>five</b>", "text/markdown": "**five**",
			"text/latex": "$5$", "application/json": map[string]any{"n": 5}}},
		{drawn{}, map[string]any{"text/plain": "a dot", "image/png": dot42}},
		{onlySVG{}, map[string]any{"text/plain": "show_test.onlySVG{}", "image/svg+xml": "<svg/>"}},
		{rendered{}, map[string]any{"text/plain": "show_test.rendered{}", "text/html": "<i>x</i>"}},
		{simple{}, map[string]any{"text/plain": "show_test.simple{}", "text/latex": "$x$"}},
		{takesArgument{3}, map[string]any{"text/plain": "show_test.takesArgument{N: 3}"}},
	} {
		if got := bundle(t, c.v).Data; !reflect.DeepEqual(got, c.want) {
			t.Errorf("Bundle(%T) = %v, want %v", c.v, got, c.want)
		}
	}
}

func TestPicturesCarryTheirSize(t *testing.T) {
	for _, c := range []struct {
		name string
		v    any
		w, h int
	}{
		{"method Size", drawn{}, 2, 1},
		{"image", image.NewGray(image.Rect(0, 0, 30, 20)), 30, 20},
	} {
		m, _ := bundle(t, c.v).Metadata["image/png"].(map[string]any)
		if m["width"] != c.w || m["height"] != c.h {
			t.Errorf("%s: metadata %v, want %d by %d", c.name, m, c.w, c.h)
		}
	}
}

func TestPlotsAreDrawn(t *testing.T) {
	p := plot.New()
	p.Title.Text = "coast-down"
	l, err := plotter.NewLine(plotter.XYs{{X: 0, Y: 62.5}, {X: 10, Y: 12}})
	if err != nil {
		t.Fatal(err)
	}
	p.Add(l)
	b := bundle(t, p)
	data, err := base64.StdEncoding.DecodeString(b.Data["image/png"].(string))
	if err != nil {
		t.Fatal(err)
	}
	cfg, _, err := image.DecodeConfig(bytes.NewReader(data))
	m := b.Metadata["image/png"].(map[string]any)
	if err != nil || cfg.Width != 2*m["width"].(int) || cfg.Height != 2*m["height"].(int) {
		t.Errorf("picture of %d by %d dots (%v) to be shown at %v, want twice that", cfg.Width, cfg.Height, err, m)
	}
	if m["alt"] != "plot: coast-down" {
		t.Errorf("the words for it are %q", m["alt"])
	}
	if b.Data["text/plain"] != "plot: coast-down" {
		t.Errorf("text/plain = %q", b.Data["text/plain"])
	}
}

func TestFailedRenderingIsAnError(t *testing.T) {
	why := errors.New("no canvas")
	if _, err := show.Bundle(drawn{why}); !errors.Is(err, why) || !strings.Contains(err.Error(), "PNG") {
		t.Errorf("Bundle with a failing PNG method: %v", err)
	}
	if _, err := show.Bundle(broken{}); err == nil || !strings.Contains(err.Error(), "no ink") {
		t.Errorf("Bundle with a panicking method: %v", err)
	}
	if _, err := show.Bundle(image.NewGray(image.Rect(0, 0, 0, 0))); err == nil {
		t.Error("an empty image was shown")
	}
}

func TestText(t *testing.T) {
	long := make([]float64, 1000)
	for i := range long {
		long[i] = float64(i) / 2
	}
	counts := map[int]string{}
	for i := range 100 {
		counts[99-i] = "n"
	}
	var nobody *drawn
	for _, c := range []struct {
		name string
		v    any
		want string
	}{
		{"nil", nil, "<nil>"},
		{"nil pointer", nobody, "<nil>"},
		{"string", "two\nlines", "two\nlines"},
		{"invalid UTF-8", "a\xffb", "a\uFFFDb"},
		{"float", 62.5, "62.5"},
		{"struct", struct {
			F float64
			S []int
		}{1, []int{2}}, "{F: 1, S: [2]}"},
		{"error", errors.New("no reading"), "no reading"},
		{"map", map[string]int{"b": 1, "a": 2}, "map[a:2 b:1]"},
		{"short list", []float64{1, 2.5}, "[1 2.5]"},
		{"long list", long, "[]float64, shape 1000: [0 0.5 1 1.5 2 2.5 … 497 497.5 498 498.5 499 499.5]"},
		{"large map", counts, "map[int]string of 100: map[0:n 1:n 2:n 3:n 4:n 5:n …]"},
		{"function", func(float64) float64 { return 0 }, "func(float64) float64"},
		{"matrix", mat.NewDense(2, 2, []float64{1, 2, 3, 4}), "*mat.Dense, shape 2 × 2\n⎡1  2⎤\n⎣3  4⎦"},
	} {
		if got := show.Text(c.v); got != c.want {
			t.Errorf("%s: Text = %q, want %q", c.name, got, c.want)
		}
	}
	if got := show.Text(strings.Repeat("x", 1<<20)); len(got) > 1<<17 || !strings.Contains(got, "left out") {
		t.Errorf("a megabyte of text was shown in %d bytes", len(got))
	}
	if got := show.Text(mat.NewDense(200, 300, nil)); !strings.Contains(got, "200 × 300") || strings.Count(got, "\n") > 20 {
		t.Errorf("a large matrix was shown as\n%s", got)
	}
}

func TestShape(t *testing.T) {
	for _, c := range []struct {
		v    any
		want string
	}{
		{[]int{1, 2, 3}, "3"}, {[][]float64{{1, 2}, {3, 4}, {5, 6}}, "3 × 2"}, {[][]int{{1}, {2, 3}}, "2 × various"},
		{[]int{}, "0"}, {map[string]int{"a": 1}, "1"}, {3, ""}, {mat.NewVecDense(5, nil), "5 × 1"}, {&[2][3]int{}, "2 × 3"}, {nil, ""},
	} {
		if got := show.Shape(c.v); got != c.want {
			t.Errorf("Shape(%v) = %q, want %q", c.v, got, c.want)
		}
	}
}

func TestMakers(t *testing.T) {
	if b := show.HTML("<b>x</b>"); b.Data["text/html"] != "<b>x</b>" || b.Data["text/plain"] == nil {
		t.Errorf("HTML = %v", b)
	}
	b, err := show.Table([]string{"speed", "unit"}, [][]string{{"62.5", "rev/s"}, {"3750", "<rpm>"}})
	if err != nil {
		t.Fatal(err)
	}
	if want := "speed  unit \n62.5   rev/s\n3750   <rpm>"; b.Data["text/plain"] != want {
		t.Errorf("table as text = %q, want %q", b.Data["text/plain"], want)
	}
	if h := b.Data["text/html"].(string); !strings.Contains(h, `<td style="text-align:right">3750</td><td style="text-align:left">&lt;rpm&gt;</td>`) {
		t.Errorf("table as HTML = %s", h)
	}
	if _, err := show.Table([]string{"a"}, [][]string{{"1", "2"}}); err == nil {
		t.Error("a ragged table was made")
	}
	if _, err := show.PNG([]byte("not a picture"), ""); err == nil {
		t.Error("text was shown as a picture")
	}
	if _, err := show.Audio([]byte("not a sound"), ""); err == nil {
		t.Error("text was shown as a sound")
	}
	if _, err := show.File("/no/such/file"); err == nil {
		t.Error("a missing file was shown")
	}
	j, err := show.JSON(map[string]int{"z": 5})
	if err != nil || j.Data["application/json"].(map[string]any)["z"] != 5.0 {
		t.Errorf("JSON = %v, %v", j, err)
	}
}

// A long page is sent once: its plain text says what it is and how it begins.
func TestLongHTMLIsSentOnce(t *testing.T) {
	for _, source := range []string{
		"<h1>Trial</h1>\n<table>" + strings.Repeat("<tr><td>17.2 rev/s ± 0.1</td></tr>\n", 1000) + "</table>",
		strings.Repeat("±", 20_000), strings.Repeat("\xb1", 20_000),
	} {
		b := show.HTML(source)
		if b.Data["text/html"] != cell.ValidText(source) {
			t.Error("the page is not whole")
		}
		text := b.Data["text/plain"].(string)
		first, rest, _ := strings.Cut(text, "\n")
		if want := fmt.Sprintf("HTML of %d bytes, which begins", len(source)); first != want || len(text) > 1200 || !utf8.ValidString(text) {
			t.Errorf("%d bytes of plain text, the first line %q", len(text), first)
		}
		if begun, _ := strings.CutSuffix(rest, "\n…"); !strings.HasPrefix(cell.ValidText(source), begun) || strings.Contains(source, "\n") && !strings.HasSuffix(begun, "</tr>") {
			t.Errorf("the plain text goes on with %q", rest)
		}
	}
	if b := show.HTML("<b>short</b>"); b.Data["text/plain"] != "<b>short</b>" {
		t.Errorf("a short page has the plain text %v", b.Data["text/plain"])
	}
}
