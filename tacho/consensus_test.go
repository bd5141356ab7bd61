package tacho

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
)

// Thirteen trials of a vaccine (G. A. Colditz et al. 1994), log risk ratios and
// their variances as printed in the handbooks of meta-analysis. Published, from
// memory: Q = 152.233 with 12 degrees of freedom, mean that believes every
// variance -0.4303 (0.0405); with the moment estimator of DerSimonian and Laird
// τ² = 0.3088, mean -0.7141 (0.1787). The estimator used here lies near it.
func TestConsensusPublished(t *testing.T) {
	y := []float64{-0.8893, -1.5854, -1.3481, -1.4416, -0.2175, -0.7861, -1.6209, 0.0120, -0.4694, -1.3713, -0.3394, 0.4459, -0.0173}
	v := []float64{0.3256, 0.1946, 0.4154, 0.0200, 0.0512, 0.0069, 0.2230, 0.0040, 0.0564, 0.0730, 0.0124, 0.5325, 0.0714}
	var readings []Value
	var w, w2 float64
	for i := range y {
		readings = append(readings, Measured(y[i], math.Sqrt(v[i]), "", fmt.Sprint("trial ", i)))
		w += 1 / v[i]
		w2 += 1 / (v[i] * v[i])
	}
	c, err := Combined(readings...)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "Q", c.Q, 152.233, 0.005) // printed variances are rounded
	closeTo(t, "fixed", c.Fixed.X, -0.4303, 0.006)
	closeTo(t, "its uncertainty", c.Fixed.U(), 0.0405, 0.005)
	moment := (c.Q - 12) / (w - w2/w)
	closeTo(t, "DerSimonian-Laird from Q", moment, 0.3088, 0.01)
	closeTo(t, "between", c.Between*c.Between, 0.3088, 0.1)
	closeTo(t, "mean", c.Value.X, -0.7141, 0.01)
	closeTo(t, "uncertainty", c.Value.U(), 0.1787, 0.03)
	// the equation of Mandel and Paule itself
	q := 0.0
	for i := range y {
		q += (y[i] - c.Value.X) * (y[i] - c.Value.X) / (v[i] + c.Between*c.Between)
	}
	closeTo(t, "q", q, 12, 1e-9)
}

func TestConsensusAgrees(t *testing.T) {
	c, err := Combined(Measured(10.0, 0.1, "m", "a"), Measured(10.1, 0.1, "m", "b"), Measured(995, 20, "cm", "c"))
	if err != nil {
		t.Fatal(err)
	}
	if c.Between != 0 || c.Value.X != c.Fixed.X {
		t.Errorf("readings that agree: %v", c)
	}
	closeTo(t, "mean", c.Value.X, (10.0*100+10.1*100+9.95*25)/225, 1e-12)
	closeTo(t, "u", c.Value.U(), 1/math.Sqrt(225), 1e-12)
}

// An error that all share does not average out.
func TestConsensusShared(t *testing.T) {
	var readings []Value
	for i := range 25 {
		v := Measured(5+0.01*float64(i%5), 0.05, "m/s", fmt.Sprint("pupil ", i))
		v.Parts = append(v.Parts, Part{Name: "ruler", U: 0.04})
		readings = append(readings, v)
	}
	c, err := Combined(readings...)
	if err != nil {
		t.Fatal(err)
	}
	closeTo(t, "ruler", contribution(c.Value, "ruler"), 0.04, 1e-12)
	closeTo(t, "own", contribution(c.Value, "between"), 0.01, 1e-12)
}

func TestConsensusOutlier(t *testing.T) {
	var readings []Value
	for i, x := range []float64{17.31, 17.33, 17.29, 17.35, 34.62, 17.30, 17.32} {
		readings = append(readings, Measured(x, 0.02, "rev/s", fmt.Sprint("pupil ", i)))
	}
	c, err := Combined(readings...)
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Outliers) != 1 || c.Outliers[0] != 4 || len(c.Hints) != 1 || !strings.Contains(c.Hints[0], "second line") {
		t.Errorf("outliers %v, hints %q", c.Outliers, c.Hints)
	}
	closeTo(t, "median", c.Median.X, 17.32, 1e-12)
	rest, err := c.Without(c.Outliers...)
	if err != nil {
		t.Fatal(err)
	}
	if len(rest.Outliers) != 0 || math.Abs(rest.Value.X-17.317) > 0.002 {
		t.Errorf("without it: %v", rest)
	}
	if _, err := Combined(readings[:2]...); !errors.Is(err, ErrTooShort) {
		t.Errorf("two readings: %v", err)
	}
	if _, err := Combined(readings[0], readings[1], Exact(17, "rev/s")); !errors.Is(err, ErrOption) {
		t.Errorf("a reading without uncertainty: %v", err)
	}
	if _, err := Combined(readings[0], readings[1], Exact(17, "m")); !errors.Is(err, ErrUnit) {
		t.Errorf("a reading in metres: %v", err)
	}
}
