package figure

import (
	"bytes"
	"errors"
	"image"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

func someSpectrum(t *testing.T, x []float64) *tacho.Spectrum {
	t.Helper()
	spec, err := tacho.NewSpectrum(x, 1000, tacho.SpectrumOptions{Window: tacho.Rectangle})
	if err != nil {
		t.Fatal(err)
	}
	return spec
}

// oneOfEach holds a curve of each kind, all about the same range.
func oneOfEach(t *testing.T) []Curve {
	x, y := []float64{0, 1, 2, 3}, []float64{1, 3, 2, 5}
	return []Curve{
		Line("line", x, y).Error([]float64{1, 1, 1, 1}),
		Dots("dots", x, y).Interval([]float64{0, 2, 1, 4}, []float64{2, 4, 3, 6}),
		Stems("stems", nil, y),
		Bars("bars", x, y),
		Function("function", math.Sqrt),
		Values("values", x[:2], []tacho.Value{tacho.Measured(1, 0.1, "Hz", "noise"), tacho.Measured(2, 0.3, "Hz", "noise")}),
		Histogram("histogram", y, 3),
		Shape(tacho.Hann, 16),
		RuleX("upright", 2), RuleY("level", 4),
	}
}

func TestPlotSameBytes(t *testing.T) {
	draw := func() []byte {
		p, err := Plot(Axes{Title: "all kinds", XHi: 3}, oneOfEach(t)...)
		if err != nil {
			t.Fatal(err)
		}
		data, err := p.SVG()
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
	if !bytes.Equal(draw(), draw()) {
		t.Error("two plots of the same curves have different bytes")
	}
}

// Each kind of curve leaves its own colour where its points are, and the
// alternative text tells its ends.
func TestPlotDraws(t *testing.T) {
	for _, c := range oneOfEach(t) {
		if c.isRule() {
			continue
		}
		p, err := Plot(Axes{XHi: 3}, c)
		img := pixels(t, p, err)
		if n := count(img, tide.R, tide.G, tide.B); n < 20 {
			t.Errorf("%s: %d dots of ink, want many", c.name, n)
		}
		if w, h := p.Size(); w != 800 || h != 380 {
			t.Errorf("%s: %d by %d pixels, want 800 by 380", c.name, w, h)
		}
	}
	p, err := Plot(Axes{Title: "Two", X: "time (s)", Y: "sound", Alt: "They cross"},
		Line("up", nil, []float64{0, 1, 2}), Dots("down", nil, []float64{2, 1, 0}), RuleX("middle", 1))
	img := pixels(t, p, err)
	if count(img, buoy.R, buoy.G, buoy.B) < 20 {
		t.Error("the second curve has not the second colour")
	}
	for _, want := range []string{"Two. They cross. Plot of sound against time (s).", "Up: a line through 3 points, lowest 0 at x = 0, highest 2 at x = 2.",
		"Down: dots at 3 points, lowest 0 at x = 2", "rule at x = 1: middle"} {
		if !strings.Contains(p.Alt, want) {
			t.Errorf("alternative text %q lacks %q", p.Alt, want)
		}
	}
	named, err := Plot(Axes{Names: []string{"red", "blue"}, Y: "speed"}, Bars("", nil, []float64{1, 2}))
	if err != nil || !strings.Contains(named.Alt, "speed for red, blue") {
		t.Errorf("a plot of names: %v, %v", named, err)
	}
}

func count(img image.Image, r, g, b uint8) (n int) {
	want := paper
	want.R, want.G, want.B = r, g, b
	for y := img.Bounds().Min.Y; y < img.Bounds().Max.Y; y++ {
		for x := img.Bounds().Min.X; x < img.Bounds().Max.X; x++ {
			if resembles(img.At(x, y), want) {
				n++
			}
		}
	}
	return n
}

// What a curve was made from may change afterwards.
func TestCurveKeepsItsOwn(t *testing.T) {
	y := []float64{1, 2, 3}
	c := Line("kept", nil, y)
	y[0] = 100
	if c.y[0] != 1 {
		t.Errorf("the curve's first point became %g", c.y[0])
	}
}

func TestPlotRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	x := []float64{1, 2, 3}
	plotOf := func(axes Axes, c ...Curve) error { _, err := Plot(axes, c...); return err }
	silent := someSpectrum(t, make([]float64, 100))
	for name, err := range map[string]error{
		"nothing":                  plotOf(Axes{}),
		"only a rule":              plotOf(Axes{}, RuleX("here", 1)),
		"no points":                plotOf(Axes{}, Line("", nil, nil)),
		"different lengths":        plotOf(Axes{}, Dots("", x, x[:2])),
		"NaN":                      plotOf(Axes{}, Bars("", x, []float64{1, nan, 2})),
		"infinity":                 plotOf(Axes{}, Stems("", x, []float64{1, inf, 2})),
		"NaN rule":                 plotOf(Axes{}, Line("", nil, x), RuleY("", nan)),
		"axis backwards":           plotOf(Axes{XLo: 2, XHi: 1}, Line("", nil, x)),
		"axis to NaN":              plotOf(Axes{YHi: nan}, Line("", nil, x)),
		"nothing in view":          plotOf(Axes{XLo: 10, XHi: 11}, Line("", nil, x)),
		"logarithm of 0":           plotOf(Axes{LogX: true}, Line("", nil, x)),
		"logarithm below 0":        plotOf(Axes{LogY: true}, Line("", x, []float64{-1, 1, 2})),
		"logarithmic axis from 0":  plotOf(Axes{LogX: true, XHi: 10}, Line("", x, x)),
		"function over nothing":    plotOf(Axes{}, Function("f", math.Sqrt)),
		"function that has no end": plotOf(Axes{XLo: -1, XHi: 1}, Function("f", math.Log)),
		"no function":              plotOf(Axes{XHi: 1}, Function("f", nil)),
		"interval inside out":      plotOf(Axes{}, Dots("", nil, x).Interval(x, []float64{0, 3, 4})),
		"interval too short":       plotOf(Axes{}, Dots("", nil, x).Error(x[:2])),
		"interval of bars":         plotOf(Axes{}, Bars("", nil, x).Error(x)),
		"interval of a function":   plotOf(Axes{XHi: 1}, Function("f", math.Sqrt).Interval(nil, nil)),
		"values of two units":      plotOf(Axes{}, Values("", nil, []tacho.Value{tacho.Exact(1, "Hz"), tacho.Exact(1, "s")})),
		"no values":                plotOf(Axes{}, Values("", nil, nil)),
		"histogram of no bins":     plotOf(Axes{}, Histogram("", x, 0)),
		"histogram of nothing":     plotOf(Axes{}, Histogram("", nil, 3)),
		"histogram of NaN":         plotOf(Axes{}, Histogram("", []float64{nan}, 3)),
		"no spectrum":              plotOf(Axes{}, Levels("", nil)),
		"silent spectrum":          plotOf(Axes{}, Levels("", silent)),
		"no amplitudes":            plotOf(Axes{}, Amplitudes("", nil)),
		"window of one sample":     plotOf(Axes{}, Shape(tacho.Hann, 1)),
		"too large":                plotOf(Axes{Width: 9000}, Line("", nil, x)),
	} {
		if err == nil {
			t.Errorf("%s: no error, want one", name)
		}
	}
	if err := plotOf(Axes{}, Line("", nil, x), Dots("odd", x, x[:2])); !errors.Is(err, tacho.ErrOption) || !strings.Contains(err.Error(), `curve 2, "odd"`) {
		t.Errorf("error %v does not say which curve is wrong", err)
	}
}

func TestHistogramCounts(t *testing.T) {
	c := Histogram("", []float64{0, 0.5, 1, 2.9, 3}, 3)
	if want := []float64{2, 1, 2}; len(c.y) != 3 || c.y[0] != want[0] || c.y[1] != want[1] || c.y[2] != want[2] {
		t.Errorf("counts %v, want %v", c.y, want)
	}
	if want := []float64{0.5, 1.5, 2.5}; c.x[0] != want[0] || c.x[2] != want[2] {
		t.Errorf("bins at %v, want %v", c.x, want)
	}
	if c := Histogram("", []float64{4, 4, 4}, 2); c.y[0]+c.y[1] != 3 {
		t.Errorf("equal values: counts %v, want 3 in all", c.y)
	}
}

// The curves of windows and spectra hold what the published figures say.
func TestReadyCurves(t *testing.T) {
	hann := Response(tacho.Hann)
	half := -1
	for i, x := range hann.x {
		if x == 0.5 {
			half = i
		}
	}
	// Heinzel 2002: flatness of the Hann window -1.4236 dB.
	if half < 0 || math.Abs(hann.y[half]-(-1.4236)) > 1e-3 {
		t.Errorf("half a bin off, the Hann response is %v dB, want -1.4236 dB", hann.y[half])
	}
	if s := Shape(tacho.FlatTop, 64); s.y[32] != 1 || s.x[64] != 1 || s.y[64] != s.y[0] {
		t.Errorf("flat-top shape: middle %g, last point (%g, %g)", s.y[32], s.x[64], s.y[64])
	}
	spec := someSpectrum(t, synth.ToneAt(100, 0.5, 0, 1000, 100))
	if l := Levels("", spec); math.Abs(l.y[10]-20*math.Log10(0.5)) > 1e-9 || l.x[10] != 100 || l.y[20] != l.y[10]-120 {
		t.Errorf("levels %v dB at %v Hz, %v dB elsewhere", l.y[10], l.x[10], l.y[20])
	}
	if a := Amplitudes("", spec); math.Abs(a.y[10]-0.5) > 1e-12 {
		t.Errorf("amplitude %v, want 0.5", a.y[10])
	}
}

// What rounding leaves of a zero differs between processors, and is not told.
func TestAltLeavesRoundingOut(t *testing.T) {
	for _, y := range [][]float64{{3e-19, 1}, {-1, -2e-17}} {
		p, err := Plot(Axes{}, Line("", []float64{1, 2}, y))
		if err != nil {
			t.Fatal(err)
		}
		if alt := p.Alt; strings.Contains(alt, "e-") || !strings.Contains(alt, "est 0 at x") {
			t.Errorf("the text for %v says %q", y, alt)
		}
	}
}

// A line thinned for drawing keeps its highest and its lowest point, and one
// that runs back is not thinned.
func TestThinnedLine(t *testing.T) {
	c := draw.Canvas{Rectangle: vg.Rectangle{Max: vg.Point{X: 600, Y: 400}}}
	pts := make([]vg.Point, 100000)
	for i := range pts {
		pts[i] = vg.Point{X: vg.Length(i) * 600 / 100000, Y: vg.Length(i % 7)}
	}
	pts[31415].Y, pts[27182].Y = 99, -99
	got := thinnedLine(pts, c)
	lo, hi := vg.Length(0), vg.Length(0)
	for _, p := range got {
		lo, hi = min(lo, p.Y), max(hi, p.Y)
	}
	if lo != -99 || hi != 99 || len(got) > 20000 {
		t.Errorf("%d points from %g to %g are left, want the extremes and far fewer", len(got), lo, hi)
	}
	pts[0].X = 5000
	if len(thinnedLine(pts, c)) != len(pts) {
		t.Error("a line that runs back was thinned")
	}
}

// Long words beside a logarithmic axis take nothing from its length.
func TestLogAxisKeepsItsLength(t *testing.T) {
	top := func(label string) int {
		p, err := Plot(Axes{LogX: true, LogY: true, Y: label}, Dots("", []float64{1, 10}, []float64{0.01, 0.6}))
		img := pixels(t, p, err)
		for y := 0; y < img.Bounds().Max.Y; y++ {
			for x := 0; x < img.Bounds().Max.X; x++ {
				if resembles(img.At(x, y), tide) {
					return y
				}
			}
		}
		return -1
	}
	if short, long := top("u"), top("scatter of many readings (Hz)"); short < 0 || short != long {
		t.Errorf("the highest dot is %d pixels from the top with a short label, %d with a long one", short, long)
	}
}
