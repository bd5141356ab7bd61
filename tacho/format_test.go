package tacho

import (
	"math"
	"testing"
)

func TestValueString(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, c := range []struct {
		x, u float64
		unit string
		want string
	}{
		// Two digits of the uncertainty, the value to the same place.
		{62.5, 0.17, "rev/s", "62.50 ± 0.17 rev/s"},
		{62.5, 0.168, "rev/s", "62.50 ± 0.17 rev/s"},
		{3750, 10.2, "rpm", "3750 ± 10 rpm"},
		{3749.6, 9.94, "rpm", "3749.6 ± 9.9 rpm"},
		{15.708, 0.039, "m/s", "15.708 ± 0.039 m/s"},
		{-15.708, 0.039, "m/s", "-15.708 ± 0.039 m/s"},
		// Uncertainties beyond the point fill up with zeros.
		{472079, 1234, "m/s²", "472100 ± 1200 m/s²"},
		{123456, 99999, "", "120000 ± 100000"},
		{2400, 567, "g", "2400 ± 570 g"},
		// The carry: 9.96 becomes 10, 99.6 becomes 100.
		{50, 9.96, "Hz", "50 ± 10 Hz"},
		{50, 0.0996, "Hz", "50.00 ± 0.10 Hz"},
		{500, 99.6, "Hz", "500 ± 100 Hz"},
		{999.96, 0.1, "Hz", "999.96 ± 0.10 Hz"},
		{99.996, 0.12, "Hz", "100.00 ± 0.12 Hz"},
		// Ties of the exact binary value: 0.125 is one, 0.135 is not.
		{1, 0.125, "", "1.00 ± 0.12"},
		{1, 0.135, "", "1.00 ± 0.14"},
		// The uncertainty larger than the value.
		{0.3, 25, "m", "0 ± 25 m"},
		{0.6, 25, "m", "1 ± 25 m"},
		{-0.3, 25, "m", "0 ± 25 m"},
		{3, 4000, "m", "0 ± 4000 m"},
		{60, 4000, "m", "100 ± 4000 m"},
		// Zero value, zero uncertainty.
		{0, 0.5, "V", "0.00 ± 0.50 V"},
		{0, 0, "V", "0 V"},
		{60, 0, "rpm", "60 rpm"},
		{0.1 + 0.2, 0, "", "0.3"},
		{2 * math.Pi, 0, "rad", "6.28318530718 rad"},
		{1e6, 0, "", "1000000"},
		{-0.0, 0, "", "0"},
		// An uncertainty below what the number is held to is none.
		{100, 1e-20, "Hz", "100 Hz"},
		// Powers of ten.
		{123456789, 1000, "Hz", "(1.234568 ± 0.000010)×10⁸ Hz"},
		{1.726e-5, 1.76e-6, "1/K", "(1.73 ± 0.18)×10⁻⁵ 1/K"},
		{0, 3e-9, "m", "(0.0 ± 3.0)×10⁻⁹ m"},
		{1e-12, 3e-9, "m", "(0.0 ± 3.0)×10⁻⁹ m"},
		{5e7, 9.96e6, "", "(5.0 ± 1.0)×10⁷"},
		{9.99999e6, 0.12e6, "", "(1.000 ± 0.012)×10⁷"},
		{1e308, 1e306, "", "(1.000 ± 0.010)×10³⁰⁸"},
		{5e-324, 5e-324, "", "(4.9 ± 4.9)×10⁻³²⁴"},
		{1.5, 1e300, "", "(0.0 ± 1.0)×10³⁰⁰"},
		{1e300, 0, "", "1×10³⁰⁰"},
		// What is not a number.
		{nan, 1, "m", "not a number m"},
		{inf, 1, "m", "infinite m"},
		{-inf, 0, "m", "minus infinite m"},
		{5, nan, "m", "5 m with unknown uncertainty"},
		{5, inf, "m", "5 m with unknown uncertainty"},
		// Units that stand close or not at all.
		{90, 0.5, "°", "90.00 ± 0.50°"},
		{0.5, 0.05, "1", "0.500 ± 0.050"},
	} {
		if got := formatMeasured(c.x, c.u, c.unit); got != c.want {
			t.Errorf("%v ± %v %s prints %q, want %q", c.x, c.u, c.unit, got, c.want)
		}
		if c.u > 0 && !math.IsInf(c.u, 0) {
			if got := Measured(c.x, c.u, c.unit, "a").String(); got != c.want {
				t.Errorf("Measured(%v, %v, %q).String() = %q, want %q", c.x, c.u, c.unit, got, c.want)
			}
		}
	}
}

func TestFormatSig(t *testing.T) {
	for _, c := range []struct {
		x      float64
		digits int
		want   string
	}{
		{187.5, 6, "187.5"}, {62.500004, 6, "62.5"}, {1.0 / 3, 6, "0.333333"}, {2.0 / 3, 3, "0.667"},
		{999.9996, 6, "1000"}, {999999.6, 6, "1000000"}, {9999999.6, 6, "1×10⁷"}, {123456, 2, "120000"},
		{0.0001, 6, "0.0001"}, {0.00009999996, 6, "0.0001"}, {0.00001, 6, "1×10⁻⁵"}, {-48000, 8, "-48000"},
		{0, 6, "0"}, {math.Copysign(0, -1), 6, "0"}, {5e-324, 3, "4.94×10⁻³²⁴"}, {math.MaxFloat64, 6, "1.79769×10³⁰⁸"},
		{math.NaN(), 6, "not a number"}, {math.Inf(-1), 6, "minus infinite"},
	} {
		if got := formatSig(c.x, c.digits); got != c.want {
			t.Errorf("formatSig(%v, %d) = %q, want %q", c.x, c.digits, got, c.want)
		}
	}
}

func TestFormatInterval(t *testing.T) {
	for _, c := range []struct {
		lo, hi float64
		unit   string
		want   string
	}{
		{62.17, 62.83, "rev/s", "62.17 to 62.83 rev/s"},
		{62.168, 62.832, "rev/s", "62.17 to 62.83 rev/s"},
		{-1, 1, "", "-1.00 to 1.00"},
		{3730.4, 3770.1, "rpm", "3730.4 to 3770.1 rpm"},
		{3730.4, 3770.9, "rpm", "3730 to 3771 rpm"},
		{1.2e8, 1.3e8, "Hz", "(1.200 to 1.300)×10⁸ Hz"},
		{-4e-9, 4e-9, "m", "(-4.0 to 4.0)×10⁻⁹ m"},
		{9.6e6, 10.4e6, "Hz", "(0.960 to 1.040)×10⁷ Hz"},
		{5, 5, "m", "5 to 5 m"},
		{math.Inf(-1), math.Inf(1), "m", "minus infinite to infinite m"},
		{math.NaN(), 1, "m", "not a number to 1 m"},
	} {
		if got := formatInterval(c.lo, c.hi, c.unit); got != c.want {
			t.Errorf("formatInterval(%v, %v, %q) = %q, want %q", c.lo, c.hi, c.unit, got, c.want)
		}
	}
}

func TestFormatDB(t *testing.T) {
	for x, want := range map[float64]string{-0.04: "0.0", -3.14: "-3.1", -96.05: "-96.0", math.Inf(-1): "minus infinite", 12: "12.0"} {
		if got := formatDB(x); got != want {
			t.Errorf("formatDB(%v) = %q, want %q", x, got, want)
		}
	}
}
