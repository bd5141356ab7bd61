package tacho

import (
	"errors"
	"fmt"
	"math"
	"testing"
)

// Every shape has mean 0, its standard deviation, its limits and, for Student's
// t, the heavier tails that belong to it.
func TestShapes(t *testing.T) {
	const draws = 200_000
	same := func(x []float64) float64 { return x[0] }
	for _, c := range []struct {
		part  Part
		sd    float64
		limit float64
		hi95  float64 // upper end of the middle 95 %
	}{
		{Part{Name: "a", U: 2}, 2, math.Inf(1), 2 * 1.95996},
		{Part{Name: "a", U: 2, Shape: Normal}, 2, math.Inf(1), 2 * 1.95996},
		{Part{Name: "a", U: 2, Shape: Rectangular}, 2, 2 * math.Sqrt(3), 0.95 * 2 * math.Sqrt(3)},
		{Part{Name: "a", U: 2, Shape: Triangular}, 2, 2 * math.Sqrt(6), 2 * math.Sqrt(6) * (1 - math.Sqrt(0.05))},
		{Part{Name: "a", U: 2, Shape: Arcsine}, 2, 2 * math.Sqrt2, 2 * math.Sqrt2 * math.Cos(0.025*math.Pi)},
		{Part{Name: "a", U: 2, DOF: 5}, 2 * math.Sqrt(5.0/3), math.Inf(1), 2 * 2.57058},
	} {
		s, err := MonteCarlo("", same, draws, 5, Value{X: 10, Parts: []Part{c.part}})
		if err != nil {
			t.Fatal(err)
		}
		// Standard errors at 200 000 draws: mean 0.0045, SD 0.0032 for a normal
		// distribution and 0.008 for t with 5 degrees of freedom; ends 0.015.
		checkClose(t, fmt.Sprintf("mean of %+v", c.part), s.Mean, 10, 0.02)
		checkClose(t, fmt.Sprintf("SD of %+v", c.part), s.SD, c.sd, 0.035)
		checkClose(t, fmt.Sprintf("97.5 %% of %+v", c.part), s.Hi95, 10+c.hi95, 0.07)
		lo, hi := s.Interval(1)
		if lo < 10-c.limit-1e-12 || hi > 10+c.limit+1e-12 {
			t.Errorf("%+v: draws from %v to %v, limits ±%v", c.part, lo-10, hi-10, c.limit)
		}
	}
}

// Equal seeds give equal results, others do not; equal names in different inputs
// are the same error.
func TestMonteCarloSeedsAndNames(t *testing.T) {
	x, y := Measured(3, 0.1, "", "clock"), Measured(4, 0.1, "", "clock")
	difference := func(v []float64) float64 { return v[1] - v[0] }
	sum := func(v []float64) float64 { return v[0] + v[1] }
	run := func(f func([]float64) float64, seed uint64) *Simulation {
		s, err := MonteCarlo("", f, 2000, seed, x, y)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	if a, b, c := run(sum, 1), run(sum, 1), run(sum, 2); a.Mean != b.Mean || a.Hi95 != b.Hi95 || a.Mean == c.Mean {
		t.Errorf("means for seeds 1, 1, 2: %v, %v, %v", a.Mean, b.Mean, c.Mean)
	}
	if s := run(difference, 3); s.SD > 1e-15 || math.Abs(s.Mean-1) > 1e-12 {
		t.Errorf("the difference of two values with one error scatters by %v around %v", s.SD, s.Mean)
	}
	checkClose(t, "SD of the sum", run(sum, 4).SD, 0.2, 0.01)
	exact, err := MonteCarlo("m", sum, 1000, 1, Exact(1, "m"), Exact(2, "m"))
	if err != nil || exact.SD != 0 || exact.Lo95 != 3 || exact.String() != "3 m (95 %: 3 to 3 m)" {
		t.Errorf("exact inputs: %v, %v", exact, err)
	}
	v := run(sum, 4).Value("simulated")
	if v.Parts[0].Name != "simulated" || v.U() != run(sum, 4).SD {
		t.Errorf("as a Value: %+v", v)
	}
}

func TestMonteCarloRefuses(t *testing.T) {
	f := func(x []float64) float64 { return math.Sqrt(x[0]) }
	for _, draws := range []int{-1, 0, 999, maxDraws + 1} {
		if _, err := MonteCarlo("", f, draws, 1, Exact(1, "")); !errors.Is(err, ErrOption) {
			t.Errorf("%d draws: %v, want ErrOption", draws, err)
		}
	}
	if _, err := MonteCarlo("", f, 1000, 1, Measured(0.1, 1, "", "a")); !errors.Is(err, ErrNotFinite) {
		t.Errorf("a root of negative draws: %v, want ErrNotFinite", err)
	}
}

// JCGM 101:2008, 9.3 (from memory): a mass calibration in conventional mass.
// First order gives 1.2340 mg ± 0.0539, the simulation 1.2341 ± 0.0754, because
// the product of two small deviations is not small against the rest.
func TestJCGM101Mass(t *testing.T) {
	rc := Measured(100000, 0.050, "mg", "reference")
	dm := Measured(1.234, 0.020, "mg", "difference")
	air := Within(1.20, 0.10, "kg/m³", "air")
	w, r := Within(8000, 1000, "kg/m³", "weight density"), Within(8000, 50, "kg/m³", "reference density")
	f := func(v []float64) float64 {
		rc, dm, a, w, r := v[0], v[1], v[2], v[3], v[4]
		return (rc+dm)*(1+(a-1.2)*(1/w-1/r)) - 100000
	}
	first := Combine("mg", f, rc, dm, air, w, r)
	checkClose(t, "first order", first.X, 1.2340, 1e-9)
	checkClose(t, "u, first order", first.U(), 0.0539, 0.00005)
	s, err := MonteCarlo("mg", f, 400_000, 2, rc, dm, air, w, r)
	if err != nil {
		t.Fatal(err)
	}
	checkClose(t, "mean", s.Mean, 1.2341, 0.0005)
	checkClose(t, "SD", s.SD, 0.0754, 0.0004)
	lo, hi := s.Shortest(0.95)
	checkClose(t, "shortest, lower end", lo, 1.0834, 0.004)
	checkClose(t, "shortest, upper end", hi, 1.3825, 0.004)
}
