package tacho

import (
	"errors"
	"math"
	"strings"
	"testing"
)

func TestParseValue(t *testing.T) {
	for _, c := range []struct {
		text string
		x, u float64
		unit string
	}{
		{"6cm±0.5mm", 0.06, 0.0005, "m"},
		{"6cm", 0.06, 0, "m"},
		{"60mm±1%", 0.06, 0.0006, "m"},
		{"6 cm +- 0.5 mm", 0.06, 0.0005, "m"},
		{"6cm+/-0.5mm", 0.06, 0.0005, "m"},
		{"6 ± 0.05 cm", 0.06, 0.0005, "m"},
		{"6 cm ± 0.05", 0.06, 0.0005, "m"},
		{"(6 ± 0.05) cm", 0.06, 0.0005, "m"},
		{"(6 cm ± 0.5 mm)", 0.06, 0.0005, "m"},
		{"6.00(5) cm", 0.06, 0.0005, "m"},
		{"1.5e-3 m ± 2e-5", 0.0015, 2e-5, "m"},
		{"1234(56) mm", 1.234, 0.056, "m"},
		{"  -3.5 ", -3.5, 0, ""},
		{"−3.5 m", -3.5, 0, "m"},
		{"+.5in", 0.0127, 0, "m"},
		{"5.", 5, 0, ""},
		{"187.5Hz±0.2", 187.5, 0.2, "Hz"},
		{"2.5 kHz ± 1 Hz", 2500, 1, "Hz"},
		{"3750 rpm", 3750 * 2 * math.Pi / 60, 0, "rad/s"},
		{"36 km/h ± 3.6 km/h", 10, 1, "m/s"},
		{"7.85 g/cm³ ± 0.5%", 7850, 39.25, "kg/m³"},
		{"30 g ± 1 g", 0.03, 0.001, "kg"},
		{"30 psi", 206842.7, 0, "kg/(m·s²)"},
		{"50 ppm ± 5 ppm", 50e-6, 5e-6, ""},
		{"-60mm±1%", -0.06, 0.0006, "m"},
		{"0 ± 0.1 mm", 0, 0.0001, "m"},
	} {
		v, err := ParseValue(c.text)
		if err != nil {
			t.Errorf("ParseValue(%q): %v", c.text, err)
			continue
		}
		const tol = 1e-7 // relative, for factors given to seven digits here
		if math.Abs(v.X-c.x) > tol*math.Abs(c.x) || math.Abs(v.U()-c.u) > tol*c.u || v.Unit != c.unit {
			t.Errorf("ParseValue(%q) = %v ± %v %q, want %v ± %v %q", c.text, v.X, v.U(), v.Unit, c.x, c.u, c.unit)
		}
		if c.u != 0 && v.Parts[0].Name != "given" {
			t.Errorf("ParseValue(%q) calls its uncertainty %q", c.text, v.Parts[0].Name)
		}
	}
}

func TestParseValueRefuses(t *testing.T) {
	for _, c := range []struct {
		text string
		kind error
		says string
	}{
		{"", ErrSyntax, "no number"},
		{"cm", ErrSyntax, "no number"},
		{"±1 cm", ErrSyntax, "no number"},
		{"6 cm ± ", ErrSyntax, "behind ±"},
		{"6 cm ± x", ErrSyntax, "behind ±"},
		{"6 cm ± 1 ± 2", ErrSyntax, "two uncertainties"},
		{"6.0(1) cm ± 1", ErrSyntax, "two uncertainties"},
		{"6 cm ± 1(2)", ErrSyntax, "no uncertainty"},
		{"6 cm ± -1 mm", ErrSyntax, "negative"},
		{"6,5 cm", ErrSyntax, "point"},
		{"6 5 cm", ErrSyntax, "not a unit"},
		{"6..5 cm", ErrSyntax, "not a unit"},
		{"(6 ± 1 cm", ErrSyntax, "bracket"},
		{"(6 mm ± 1) cm", ErrSyntax, "one unit"},
		{"6.0(x) cm", ErrSyntax, "bracket"},
		{"6.0(1 cm", ErrSyntax, "bracket"},
		{"0x10 m", ErrUnit, `"x"`},
		{"1e999 m", ErrSyntax, "range"},
		{"1e308 km", ErrSyntax, "too large"},
		{"NaN m", ErrSyntax, "no number"},
		{"Inf", ErrSyntax, "no number"},
		{"1_000 m", ErrUnit, `"_"`},
		{"6 parsec", ErrUnit, "parsec"},
		{"6 cm ± 1 s", ErrUnit, "cannot convert"},
		{"6 ± 1 parsec", ErrUnit, "parsec"},
	} {
		v, err := ParseValue(c.text)
		if !errors.Is(err, c.kind) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("ParseValue(%q) = %v, %v, want %v with %q", c.text, v, err, c.kind, c.says)
		}
	}
}

// What prints with its uncertainty reads back as the same, as far as it was
// printed.
func TestParseValueReadsString(t *testing.T) {
	for _, v := range []Value{Measured(0.06, 0.0005, "m", "a"), Measured(187.53, 0.21, "Hz", "a"), Exact(0.0254, "m"), Measured(-3.2, 0.4, "m/s", "a"), Measured(250000, 1200, "Pa", "a")} {
		got, err := ParseValue(v.String())
		if err != nil {
			t.Errorf("ParseValue(%q): %v", v, err)
			continue
		}
		if math.Abs(got.X-v.X) > 0.05*v.U() || math.Abs(got.U()-v.U()) > 0.05*v.U() {
			t.Errorf("%q reads back as %v", v, got)
		}
	}
}

func FuzzParseValue(f *testing.F) {
	for _, s := range []string{"6cm±0.5mm", "(6 ± 0.05) cm", "6.00(5) cm", "1e-3 kg/(m·s²)", "60mm±1%", "−1 °", "7 g", "1 m^99"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		v, err := ParseValue(s)
		if err != nil {
			if !errors.Is(err, ErrSyntax) && !errors.Is(err, ErrUnit) {
				t.Errorf("ParseValue(%q): %v is of no known kind", s, err)
			}
			return
		}
		if math.IsNaN(v.X) || math.IsInf(v.X, 0) || math.IsNaN(v.U()) || math.IsInf(v.U(), 0) || v.U() < 0 {
			t.Errorf("ParseValue(%q) = %v ± %v", s, v.X, v.U())
		}
	})
}
