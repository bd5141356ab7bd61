package tacho

import (
	"fmt"
	"math"
	"testing"
)

// NIST Special Publication 811 (2008), Appendix B.8, as printed there. Bold
// factors there are exact; the others are rounded to seven digits.
var sp811Factors = []struct {
	from, to string
	factor   string
	exact    bool
}{
	{"rpm", "rad/s", "1.047198E-01", false},
	{"rev", "rad", "6.283185E+00", false},
	{"°", "rad", "1.745329E-02", false},
	{"ft", "m", "3.048E-01", true},
	{"in", "m", "2.54E-02", true},
	{"mile", "m", "1.609344E+03", true},
	{"mile/h", "m/s", "4.4704E-01", true},
	{"mile/h", "km/h", "1.609344E+00", true},
	{"km/h", "m/s", "2.777778E-01", false},
	{"ft/s", "m/s", "3.048E-01", true},
	{"ft/min", "m/s", "5.08E-03", true},
	{"kn", "m/s", "5.144444E-01", false},
	{"nmi", "m", "1.852E+03", true},
	{"gₙ", "m/s²", "9.80665E+00", true},
	{"psi", "Pa", "6.894757E+03", false},
	{"atm", "Pa", "1.01325E+05", true},
}

func TestConversionsAgainstSP811(t *testing.T) {
	for _, c := range sp811Factors {
		got, err := Exact(1, c.from).To(c.to)
		if err != nil {
			t.Errorf("%s to %s: %v", c.from, c.to, err)
			continue
		}
		var want float64
		fmt.Sscan(c.factor, &want)
		tol := 1e-15 * want
		if !c.exact {
			tol = 0.5e-6 * math.Pow(10, math.Floor(math.Log10(want)))
		}
		if math.Abs(got.X-want) > tol {
			t.Errorf("1 %s = %.10g %s, SP 811 prints %s", c.from, got.X, c.to, c.factor)
		}
		back, err := got.To(c.from)
		if err != nil || math.Abs(back.X-1) > 1e-15 {
			t.Errorf("1 %s there and back is %.17g, %v", c.from, back.X, err)
		}
	}
}

// Each conversion method against its factor, with a zero and a negative.
func TestQuantityConversions(t *testing.T) {
	type pair struct {
		name     string
		there    func(float64) float64
		back     func(float64) float64
		one, tol float64
	}
	for _, p := range []pair{
		{"rev/s to rpm", func(x float64) float64 { return float64(RevPerSec(x).RPM()) }, func(x float64) float64 { return float64(RPM(x).RevPerSec()) }, 60, 0},
		{"rev/s to rad/s", func(x float64) float64 { return float64(RevPerSec(x).RadPerSec()) }, func(x float64) float64 { return float64(RadPerSec(x).RevPerSec()) }, 2 * math.Pi, 0},
		{"rpm to rad/s", func(x float64) float64 { return float64(RPM(x).RadPerSec()) }, func(x float64) float64 { return float64(RadPerSec(x).RPM()) }, 1.047198e-01, 5e-8},
		{"m/s to km/h", func(x float64) float64 { return float64(MetrePerSec(x).KilometrePerHour()) }, func(x float64) float64 { return float64(KilometrePerHour(x).MetrePerSec()) }, 3.6, 0},
		{"m/s to mile/h", func(x float64) float64 { return float64(MetrePerSec(x).MilePerHour()) }, func(x float64) float64 { return float64(MilePerHour(x).MetrePerSec()) }, 1 / 0.44704, 0},
		{"m/s to ft/s", func(x float64) float64 { return float64(MetrePerSec(x).FootPerSec()) }, func(x float64) float64 { return float64(FootPerSec(x).MetrePerSec()) }, 1 / 0.3048, 0},
		{"m/s to kn", func(x float64) float64 { return float64(MetrePerSec(x).Knot()) }, func(x float64) float64 { return float64(Knot(x).MetrePerSec()) }, 3600.0 / 1852, 0},
		{"m/s² to g", func(x float64) float64 { return float64(MetrePerSec2(x).GForce()) }, func(x float64) float64 { return float64(GForce(x).MetrePerSec2()) }, 1 / 9.80665, 0},
		{"Hz to s", func(x float64) float64 { return 1 / float64(Hertz(x).Period()) }, func(x float64) float64 { return float64(Second(1 / x).Hertz()) }, 1, 0},
	} {
		for _, x := range []float64{1, 0, -1, 62.5, -3750, 1e-9, 1e12} {
			got := p.there(x)
			if math.Abs(got-p.one*x) > math.Abs(x)*(p.tol+1e-15*p.one) {
				t.Errorf("%s: %v gives %v, want %v", p.name, x, got, p.one*x)
			}
			if x != 0 && math.Abs(p.back(got)/x-1) > 4e-16 {
				t.Errorf("%s: %v there and back is %v", p.name, x, p.back(got))
			}
		}
	}
}

// Common practice, no source: a three-lobed rotor heard at 187.5 Hz turns at
// 62.5 rev/s or 3750 rpm, and at 4 cm its tips move at 15.7 m/s, 56.5 km/h,
// 35.1 mile/h.
func TestQuantityExampleOfTheTrade(t *testing.T) {
	turns := RevPerSec(187.5 / 3)
	if turns != 62.5 || turns.RPM() != 3750 {
		t.Errorf("187.5 Hz of three lobes: %v, %v", turns, turns.RPM())
	}
	v := MetrePerSec(0.04 * float64(turns.RadPerSec()))
	for got, want := range map[float64]float64{float64(v): 15.7, float64(v.KilometrePerHour()): 56.5, float64(v.MilePerHour()): 35.1} {
		if math.Abs(got-want) > 0.05 {
			t.Errorf("tip speed %.3f, want %.1f", got, want)
		}
	}
	// OpenStax College Physics: 70.00 miles per hour are 31.29 m/s.
	if got := MilePerHour(70).MetrePerSec(); math.Abs(float64(got)-31.29) > 0.005 {
		t.Errorf("70 mile/h = %v, want 31.29 m/s", got)
	}
}

// Equal temperament on A4 = 440 Hz (ISO 16:1975): C4 is 900 cents below at
// 261.6256 Hz, and an octave is 1200 cents.
func TestCents(t *testing.T) {
	if got := Hertz(261.6256).Cents(440); math.Abs(got+900) > 0.001 {
		t.Errorf("C4 is %v cents above A4, want -900", got)
	}
	if got := Hertz(880).Cents(440); got != 1200 {
		t.Errorf("A5 is %v cents above A4, want 1200", got)
	}
	for _, c := range [][2]Hertz{{0, 440}, {440, 0}, {-1, 440}, {440, Hertz(math.NaN())}} {
		if got := c[0].Cents(c[1]); !math.IsNaN(got) {
			t.Errorf("%v above %v is %v cents, want NaN", c[0], c[1], got)
		}
	}
}

func TestQuantityStrings(t *testing.T) {
	for _, c := range []struct {
		q    fmt.Stringer
		want string
	}{
		{Hertz(187.5), "187.5 Hz"}, {RevPerSec(62.5), "62.5 rev/s"}, {RPM(3750), "3750 rpm"}, {RadPerSec(392.699081), "392.699 rad/s"},
		{Second(0.0213333333), "0.0213333 s"}, {Metre(0.04), "0.04 m"}, {MetrePerSec(15.70796), "15.708 m/s"},
		{KilometrePerHour(56.54867), "56.5487 km/h"}, {MilePerHour(35.137), "35.137 mile/h"}, {FootPerSec(51.5), "51.5 ft/s"}, {Knot(30.5), "30.5 kn"},
		{MetrePerSec2(6168.5), "6168.5 m/s²"}, {GForce(472079), "472079 g"}, {Pascal(6894.757), "6894.76 Pa"}, {Kilogram(0.3), "0.3 kg"},
		{KilogramPerMetre3(7850), "7850 kg/m³"}, {Hertz(math.NaN()), "not a number Hz"}, {RPM(-0.0), "0 rpm"}, {Metre(4e-7), "4×10⁻⁷ m"},
	} {
		if got := c.q.String(); got != c.want {
			t.Errorf("%T(%v) prints %q, want %q", c.q, c.q, got, c.want)
		}
	}
}
