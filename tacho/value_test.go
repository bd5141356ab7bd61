package tacho

import (
	"errors"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// checkClose fails the test if got is further than tol from want.
func checkClose(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.10g, want %.10g ± %.3g", what, got, want, tol)
	}
}

// studentTable is Table B.1 of NIST Technical Note 1297 (1994), which is Table
// G.2 of the GUM: the two-sided factors for 68.27, 90, 95, 95.45, 99 and 99.73 %.
var studentTable = []struct {
	nu float64
	t  [6]float64
}{
	{1, [6]float64{1.84, 6.31, 12.71, 13.97, 63.66, 235.80}}, {2, [6]float64{1.32, 2.92, 4.30, 4.53, 9.92, 19.21}},
	{3, [6]float64{1.20, 2.35, 3.18, 3.31, 5.84, 9.22}}, {4, [6]float64{1.14, 2.13, 2.78, 2.87, 4.60, 6.62}},
	{5, [6]float64{1.11, 2.02, 2.57, 2.65, 4.03, 5.51}}, {6, [6]float64{1.09, 1.94, 2.45, 2.52, 3.71, 4.90}},
	{7, [6]float64{1.08, 1.89, 2.36, 2.43, 3.50, 4.53}}, {8, [6]float64{1.07, 1.86, 2.31, 2.37, 3.36, 4.28}},
	{9, [6]float64{1.06, 1.83, 2.26, 2.32, 3.25, 4.09}}, {10, [6]float64{1.05, 1.81, 2.23, 2.28, 3.17, 3.96}},
	{11, [6]float64{1.05, 1.80, 2.20, 2.25, 3.11, 3.85}}, {12, [6]float64{1.04, 1.78, 2.18, 2.23, 3.05, 3.76}},
	{13, [6]float64{1.04, 1.77, 2.16, 2.21, 3.01, 3.69}}, {14, [6]float64{1.04, 1.76, 2.14, 2.20, 2.98, 3.64}},
	{15, [6]float64{1.03, 1.75, 2.13, 2.18, 2.95, 3.59}}, {16, [6]float64{1.03, 1.75, 2.12, 2.17, 2.92, 3.54}},
	{17, [6]float64{1.03, 1.74, 2.11, 2.16, 2.90, 3.51}}, {18, [6]float64{1.03, 1.73, 2.10, 2.15, 2.88, 3.48}},
	{19, [6]float64{1.03, 1.73, 2.09, 2.14, 2.86, 3.45}}, {20, [6]float64{1.03, 1.72, 2.09, 2.13, 2.85, 3.42}},
	{25, [6]float64{1.02, 1.71, 2.06, 2.11, 2.79, 3.33}}, {30, [6]float64{1.02, 1.70, 2.04, 2.09, 2.75, 3.27}},
	{35, [6]float64{1.01, 1.70, 2.03, 2.07, 2.72, 3.23}}, {40, [6]float64{1.01, 1.68, 2.02, 2.06, 2.70, 3.20}},
	{45, [6]float64{1.01, 1.68, 2.01, 2.06, 2.69, 3.18}}, {50, [6]float64{1.01, 1.68, 2.01, 2.05, 2.68, 3.16}},
	{100, [6]float64{1.005, 1.660, 1.984, 2.025, 2.626, 3.077}}, {math.Inf(1), [6]float64{1.000, 1.645, 1.960, 2.000, 2.576, 3.000}},
}

func TestCoverageFactors(t *testing.T) {
	p := [6]float64{0.6827, 0.90, 0.95, 0.9545, 0.99, 0.9973}
	for _, row := range studentTable {
		half := 0.005
		if row.nu >= 100 {
			half = 0.0005
		}
		dof := row.nu
		if math.IsInf(dof, 1) {
			dof = 0
		}
		v := Value{X: 1, Parts: []Part{{Name: "a", U: 0.1, DOF: dof}}}
		for i, want := range row.t {
			tol := half + 1e-9
			switch {
			case row.nu == 35 && i == 1:
				want = 1.69 // 1.70 is printed; it is 1.68957
			case row.nu == 1 && i == 5:
				tol = 0.03 // printed for 3σ, 99.730020 %
			}
			checkClose(t, "K", v.K(p[i]), want, tol)
		}
	}
	for p, want := range map[float64]float64{0: 0, 1: math.Inf(1)} {
		if got := Measured(1, 1, "", "a").K(p); got != want {
			t.Errorf("K(%v) = %v, want %v", p, got, want)
		}
	}
	for _, p := range []float64{-0.1, 1.1, math.NaN()} {
		if got := Measured(1, 1, "", "a").K(p); !math.IsNaN(got) {
			t.Errorf("K(%v) = %v, want NaN", p, got)
		}
	}
}

// Welch-Satterthwaite: 0.57 with 9 degrees of freedom and 0.25 with infinitely
// many have 12.8 effective ones (worked example of a calibration course of
// Sandia National Laboratories).
func TestWelchSatterthwaite(t *testing.T) {
	v := Value{X: 10, Parts: []Part{{Name: "repeat", U: 0.57, DOF: 9}, {Name: "scale", U: 0.25}}}
	checkClose(t, "DOF", v.DOF(), 12.8, 0.05)
	// The coverage factor goes by the whole number below, 12.
	checkClose(t, "K(0.95)", v.K(0.95), 2.18, 0.005)
	if got := Exact(3, "m").DOF(); !math.IsInf(got, 1) {
		t.Errorf("DOF of an exact number = %v, want infinite", got)
	}
	half := Value{Parts: []Part{{Name: "a", U: 1, DOF: 0.5}}}
	if k := half.K(0.95); !(k > 12.7) || math.IsInf(k, 1) {
		t.Errorf("K for half a degree of freedom = %v, want more than for one, and finite", k)
	}
}

func TestIntervals(t *testing.T) {
	v := Measured(62.5, 0.1, "rev/s", "tone")
	lo, hi := v.CI95()
	checkClose(t, "lo95", lo, 62.5-0.1959964, 1e-6)
	checkClose(t, "hi95", hi, 62.5+0.1959964, 1e-6)
	if lo, hi := Exact(5, "").Interval(0.999); lo != 5 || hi != 5 {
		t.Errorf("an exact 5 lies between %v and %v", lo, hi)
	}
	// Wider for more probability, wider for fewer degrees of freedom.
	few := Value{X: 62.5, Parts: []Part{{Name: "tone", U: 0.1, DOF: 3}}}
	for _, p := range []float64{0.5, 0.9, 0.99, 0.9999} {
		lo, hi := v.Interval(p)
		loFew, hiFew := few.Interval(p)
		if !(loFew < lo && lo < 62.5 && 62.5 < hi && hi < hiFew) {
			t.Errorf("p = %v: %v to %v, and %v to %v with three degrees of freedom", p, lo, hi, loFew, hiFew)
		}
		// It holds what it says, by the distribution itself.
		share := distuv.StudentsT{Mu: 62.5, Sigma: 0.1, Nu: 3}.CDF(hiFew) - distuv.StudentsT{Mu: 62.5, Sigma: 0.1, Nu: 3}.CDF(loFew)
		checkClose(t, "probability", share, p, 1e-9)
	}
}

func TestArithmetic(t *testing.T) {
	x := Measured(3, 0.1, "m", "x")
	y := Measured(4, 0.2, "m", "y")
	for _, c := range []struct {
		name    string
		got     Value
		x, u    float64
		unit    string
		nonZero int
	}{
		{"x + y", x.Add(y), 7, math.Hypot(0.1, 0.2), "m", 2},
		{"x - y", x.Sub(y), -1, math.Hypot(0.1, 0.2), "m", 2},
		{"x - x", x.Sub(x), 0, 0, "m", 0},
		{"x + x", x.Add(x), 6, 0.2, "m", 1},
		{"x · y", x.Mul(y), 12, math.Hypot(0.4, 0.6), "m²", 2},
		{"x / y", x.Div(y), 0.75, 0.75 * math.Hypot(0.1/3, 0.2/4), "", 2},
		{"x / x", x.Div(x), 1, 0, "", 0},
		{"x² by Mul", x.Mul(x), 9, 0.6, "m²", 1},
		{"x² by Pow", x.Pow(2, "m²"), 9, 0.6, "m²", 1},
		{"√y", y.Pow(0.5, ""), 2, 0.05, "", 1},
		{"x⁰", x.Pow(0, ""), 1, 0, "", 0},
		{"-2x", x.Scale(-2, "m"), -6, 0.2, "m", 1},
		{"(x + y) - y", x.Add(y).Sub(y), 3, 0.1, "m", 1},
		{"x·y/y", x.Mul(y).Div(y), 3, 0.1, "m", 1},
		{"x in cm + y", x.Scale(100, "cm").Add(y), 700, 100 * math.Hypot(0.1, 0.2), "cm", 2},
		{"1/x", Exact(1, "").Div(x), 1.0 / 3, 0.1 / 9, "1/m", 1},
		{"x as feet", x.As("ft"), 3, 0.1, "ft", 1},
	} {
		checkClose(t, c.name, c.got.X, c.x, 1e-14)
		checkClose(t, "u of "+c.name, c.got.U(), c.u, 1e-14)
		if c.got.Unit != c.unit {
			t.Errorf("%s is in %q, want %q", c.name, c.got.Unit, c.unit)
		}
		if got := len(c.got.Budget()); got != c.nonZero && c.u != 0 {
			t.Errorf("%s has %d contributions, want %d", c.name, got, c.nonZero)
		}
	}
	if x.X != 3 || len(x.Parts) != 1 || x.Parts[0].U != 0.1 {
		t.Errorf("arithmetic has changed its input to %+v", x)
	}
	if got := x.Div(Exact(0, "s")); !math.IsInf(got.X, 1) || !strings.Contains(got.String(), "infinite") {
		t.Errorf("3 / 0 = %v", got)
	}
	func() {
		defer func() {
			if p, _ := recover().(string); !strings.Contains(p, `"m"`) || !strings.Contains(p, `"s"`) {
				t.Errorf("adding seconds to metres panics with %q", p)
			}
		}()
		x.Add(Exact(1, "s"))
	}()
}

func TestPartsOfOneName(t *testing.T) {
	v := Value{X: 1, Parts: []Part{{Name: "clock", U: 3, DOF: 9}, {Name: "tone", U: 4}, {Name: "clock", U: -3, DOF: 4}}}
	checkClose(t, "u with opposite parts", v.U(), 4, 0)
	v.Parts[2].U = 0.5
	checkClose(t, "u with parts in line", v.U(), math.Hypot(3.5, 4), 1e-15)
	n := v.Named("all")
	if len(n.Parts) != 1 || n.Parts[0].Name != "all" || math.Abs(n.DOF()/v.DOF()-1) > 1e-12 || math.Abs(n.U()/v.U()-1) > 1e-12 {
		t.Errorf("Named gives %+v, want u %v and %v degrees of freedom", n, v.U(), v.DOF())
	}
	if w := Within(6, 0.5, "cm", "x").Named("radius"); w.Parts[0].Shape != Rectangular {
		t.Errorf("Named has lost the shape: %+v", w)
	}
	if w := Exact(6, "cm").Named("radius"); len(w.Parts) != 0 {
		t.Errorf("Named has given an exact number parts: %+v", w)
	}
}

func TestBudget(t *testing.T) {
	v := Value{X: 1, Parts: []Part{{Name: "clock", U: -0.03}, {Name: "tone", U: 0.04}, {Name: "radius", U: 0.12}, {Name: "none"}}}
	got := v.Budget()
	want := []Share{{"radius", 0.12, 144.0 / 169}, {"tone", 0.04, 16.0 / 169}, {"clock", 0.03, 9.0 / 169}}
	if len(got) != len(want) {
		t.Fatalf("Budget = %+v, want %+v", got, want)
	}
	for i := range want {
		if got[i].Name != want[i].Name || math.Abs(got[i].U-want[i].U) > 1e-15 || math.Abs(got[i].Fraction-want[i].Fraction) > 1e-14 {
			t.Errorf("share %d is %+v, want %+v", i, got[i], want[i])
		}
	}
}

func TestScore(t *testing.T) {
	a, b := Measured(62.5, 0.3, "rev/s", "a"), Measured(61.5, 0.4, "rev/s", "b")
	checkClose(t, "Score", Score(a, b), 2, 1e-14)
	checkClose(t, "Score in other units", Score(a, b.Scale(60, "rpm")), 2, 1e-12)
	if got := Score(a, a); got != 0 {
		t.Errorf("Score(a, a) = %v", got)
	}
	if got := Score(a, a.Add(Exact(1, "rev/s"))); !math.IsInf(got, -1) {
		t.Errorf("Score of values that differ by exactly 1 = %v", got)
	}
	// A common clock makes two trials no more different.
	clock := func(x float64) Value {
		return Value{X: x, Unit: "rev/s", Parts: []Part{{Name: "clock", U: 0.5}, {Name: "tone" + formatSig(x, 3), U: 0.1}}}
	}
	checkClose(t, "Score with a common clock", Score(clock(62.5), clock(62.3)), 0.2/math.Hypot(0.1, 0.1), 1e-12)
}

func TestCombineAgainstFormulas(t *testing.T) {
	x, y := Measured(0.6, 0.05, "m", "x"), Measured(-3, 0.2, "s", "y")
	shared := Value{X: 2, Unit: "kg", Parts: []Part{{Name: "x", U: -0.1}, {Name: "z", U: 0.3}}}
	for _, c := range []struct {
		name   string
		f      func(v []float64) float64
		slopes [3]float64
	}{
		{"x", func(v []float64) float64 { return v[0] }, [3]float64{1, 0, 0}},
		{"x·y", func(v []float64) float64 { return v[0] * v[1] }, [3]float64{-3, 0.6, 0}},
		{"ln x + z²", func(v []float64) float64 { return math.Log(v[0]) + v[2]*v[2] }, [3]float64{1 / 0.6, 0, 4}},
		{"sin y / z", func(v []float64) float64 { return math.Sin(v[1]) / v[2] }, [3]float64{0, math.Cos(-3) / 2, -math.Sin(-3) / 4}},
		{"1e9 x + 1", func(v []float64) float64 { return 1e9*v[0] + 1 }, [3]float64{1e9, 0, 0}},
	} {
		got := Combine("u", c.f, x, y, shared)
		want := Value{X: c.f([]float64{0.6, -3, 2}), Unit: "u", Parts: []Part{
			{Name: "x", U: c.slopes[0]*0.05 - c.slopes[2]*0.1}, {Name: "y", U: c.slopes[1] * 0.2}, {Name: "z", U: c.slopes[2] * 0.3}}}
		checkClose(t, c.name, got.X, want.X, 0)
		checkClose(t, "u of "+c.name, got.U(), want.U(), 1e-6*want.U())
	}
	// A derivative that does not exist leaves an uncertainty that says so.
	bad := Combine("", func(v []float64) float64 { return math.Sqrt(v[0]) }, Measured(0, 0.1, "", "x"))
	if !math.IsNaN(bad.U()) || !strings.Contains(bad.String(), "unknown") {
		t.Errorf("√0 ± 0.1 prints %q", bad)
	}
}

func TestAverageRefuses(t *testing.T) {
	for _, c := range []struct {
		readings []float64
		kind     error
	}{
		{nil, ErrTooShort}, {[]float64{1}, ErrTooShort}, {[]float64{1, math.NaN()}, ErrNotFinite}, {[]float64{1, math.Inf(1)}, ErrNotFinite},
	} {
		if v, err := Average("m", "a", c.readings...); !errors.Is(err, c.kind) {
			t.Errorf("Average(%v) = %v, %v, want %v", c.readings, v, err, c.kind)
		}
	}
	if _, err := AverageTogether("a", []string{"m"}, []float64{1, 2}, []float64{1, 2}); !errors.Is(err, ErrOption) {
		t.Errorf("one unit for two lists: %v", err)
	}
	if _, err := AverageTogether("a", []string{"m", "s"}, []float64{1, 2}, []float64{1}); !errors.Is(err, ErrOption) {
		t.Errorf("lists of different length: %v", err)
	}
	units := []string{"", ""}
	for _, cov := range [][][]float64{
		{{1, 2}, {2, 1}}, {{1, 0.5}, {0.4, 1}}, {{-1, 0}, {0, 1}}, {{1, 0}}, {{1}, {0, 1}}, {{0, 0.1}, {0.1, 1}}, {{math.NaN(), 0}, {0, 1}},
	} {
		if v, err := Correlated("a", units, []float64{1, 2}, cov, 0); !errors.Is(err, ErrOption) {
			t.Errorf("Correlated with %v = %v, %v, want ErrOption", cov, v, err)
		}
	}
	// Full correlation, and no uncertainty at all, are allowed.
	v, err := Correlated("a", units, []float64{1, 2}, [][]float64{{4, -2}, {-2, 1}}, 0)
	if err != nil {
		t.Fatal(err)
	}
	checkClose(t, "u of a + 2b, fully correlated", v[0].Add(v[1].Scale(2, "")).U(), 0, 1e-4)
	if v, err = Correlated("a", units, []float64{1, 2}, [][]float64{{0, 0}, {0, 1}}, 0); err != nil || v[0].U() != 0 || v[1].U() != 1 {
		t.Errorf("one exact of two: %v, %v", v, err)
	}
}
