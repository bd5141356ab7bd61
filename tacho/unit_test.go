package tacho

import (
	"errors"
	"math"
	"strings"
	"testing"
)

func TestConversionTableIsComplete(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range Conversions() {
		if c.Symbol == "" || c.Name == "" || !(c.Factor > 0) || c.Source == "" || (c.Base == "" && c.Symbol != "%" && c.Symbol != "ppm") {
			t.Errorf("the row of %q has a gap: %+v", c.Symbol, c)
		}
		if seen[c.Symbol] {
			t.Errorf("%q is in the table twice", c.Symbol)
		}
		seen[c.Symbol] = true
	}
	for spelling, symbol := range spellings {
		if _, ok := inTable(symbol); !ok {
			t.Errorf("%q is said to mean %q, which is not in the table", spelling, symbol)
		}
		if _, err := Exact(1, spelling).To(symbol); err != nil {
			t.Errorf("%q to %q: %v", spelling, symbol, err)
		}
	}
}

func TestTo(t *testing.T) {
	for _, c := range []struct {
		x        float64
		from, to string
		want     float64
	}{
		{6, "cm", "m", 0.06}, {60, "mm", "cm", 6}, {2.5, "kHz", "Hz", 2500}, {62.5, "rev/s", "rpm", 3750}, {1, "rev/min", "rpm", 1},
		{1, "rev/s", "rad/s", 2 * math.Pi}, {90, "°", "rev", 0.25}, {36, "km/h", "m/s", 10}, {1, "kg·m²/s²", "J", 1}, {1, "N*m", "J", 1},
		{1, "N/m^2", "Pa", 1}, {1, "g/cm³", "kg/m³", 1000}, {1, "kg/(m·s²)", "Pa", 1}, {1, "MPa", "N/mm²", 1}, {1, "J/s", "W", 1},
		{-40, "m/s", "km/h", -144}, {0, "in", "m", 0}, {2, "h", "min", 120}, {3, "ms", "s", 0.003}, {50, "ppm", "%", 0.005},
		{1, "gₙ", "m/s²", 9.80665}, {9.80665, "m/s²", "g", 1}, {2, "g", "m/s²", 19.6133}, {500, "g", "kg", 0.5}, {1, "m/s/s", "m/s²", 1},
		{70, "mph", "m/s", 31.2928}, {1, "m", "m", 1}, {7, "blade", "blade", 7}, {7, "", "%", 700}, {1, "µm", "um", 1}, {30, "psi", "kPa", 206.8427},
	} {
		got, err := Measured(c.x, 0.01*math.Abs(c.x), c.from, "a").To(c.to)
		if err != nil {
			t.Errorf("%g %s to %s: %v", c.x, c.from, c.to, err)
			continue
		}
		if math.Abs(got.X-c.want) > 1e-6*math.Abs(c.want) || got.Unit != c.to {
			t.Errorf("%g %s = %v %s, want %v %s", c.x, c.from, got.X, got.Unit, c.want, c.to)
		}
		if math.Abs(got.U()-0.01*math.Abs(got.X)) > 1e-12*math.Abs(got.X) {
			t.Errorf("%g %s ± 1 %% to %s: uncertainty %v of %v", c.x, c.from, c.to, got.U(), got.X)
		}
	}
	for _, c := range []struct{ from, to, says string }{
		{"m", "s", `"m" to "s"`}, {"Hz", "rev/s", "only a Rotor"}, {"rpm", "Hz", "only a Rotor"}, {"m", "furlong", `"furlong"`},
		{"blade", "m", `"blade"`}, {"m²", "m", "convert"}, {"kg", "m/s²", "convert"}, {"m^x", "m", "not a unit"}, {"m/-", "m", "whole power"},
	} {
		got, err := Exact(1, c.from).To(c.to)
		if !errors.Is(err, ErrUnit) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q to %q: %v, %v, want ErrUnit with %q", c.from, c.to, got, err, c.says)
		}
	}
}

func TestComposeUnits(t *testing.T) {
	for _, c := range []struct {
		a, b     string
		mul, div string
	}{
		{"m", "s", "m·s", "m/s"}, {"m/s", "s", "m", "m/s²"}, {"m", "m", "m²", ""}, {"", "s", "s", "1/s"}, {"kg", "", "kg", "kg"},
		{"1/s", "s", "", "1/s²"}, {"V", "A", "V·A", "V/A"}, {"kg·m²", "s²", "kg·m²·s²", "kg·m²/s²"}, {"kg", "m·s²", "kg·m·s²", "kg/(m·s²)"},
		{"kg/(m·s²)", "m²", "kg·m/s²", "kg/(m³·s²)"}, {"m/s^2", "m/s²", "m²/s⁴", ""}, {"1", "Hz", "Hz", "1/Hz"},
		{"a-", "b", "a-·b", "a-/(b)"},
	} {
		if got := composeUnits(c.a, c.b, 1); got != c.mul {
			t.Errorf("%q times %q is %q, want %q", c.a, c.b, got, c.mul)
		}
		if got := composeUnits(c.a, c.b, -1); got != c.div {
			t.Errorf("%q by %q is %q, want %q", c.a, c.b, got, c.div)
		}
	}
}
