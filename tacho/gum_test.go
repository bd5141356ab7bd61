package tacho

import (
	"math"
	"testing"
)

// The worked examples of JCGM 100:2008 (GUM), annex H, and of JCGM 101:2008 and
// other guides. Their inputs are copied here with the published results.

// GUM H.1, end-gauge calibration: l = 50 000 838 nm, u_c = 32 nm, ν_eff = 16.
func TestGUMH1EndGauge(t *testing.T) {
	// d, the difference of the gauges in nm, with its three causes.
	d := Value{X: 215, Unit: "nm", Parts: []Part{
		{Name: "repeat", U: 13 / math.Sqrt(5), DOF: 24}, // pooled from 25 readings, for a mean of 5
		{Name: "comparator random", U: 3.9, DOF: 5},     // 0.01 µm at 95 % from 6 readings
		{Name: "comparator systematic", U: 6.7, DOF: 8}, // 0.02 µm at three standard deviations, known to 25 %
	}}
	checkClose(t, "u(d)", d.U(), 9.7, 0.05)
	checkClose(t, "ν of d", d.DOF(), 25.6, 0.2)
	// U = 0.075 µm with a factor of 3 and 18 degrees of freedom.
	ls := Value{X: 50_000_623, Unit: "nm", Parts: []Part{{Name: "standard", U: 25, DOF: 18}}}
	// α = 11.5e-6 ± 2e-6, rectangular; does not enter at first order, being
	// multiplied by δθ = 0. δα is within ±1e-6, known to 10 %: 50 degrees of
	// freedom. δθ is within ±0.05 °C, known to 50 %: 2 degrees of freedom.
	alpha := Within(11.5e-6, 2e-6, "1/°C", "expansion")
	dAlpha := Value{Unit: "1/°C", Parts: []Part{{Name: "expansion difference", U: 1e-6 / math.Sqrt(3), DOF: 50, Shape: Rectangular}}}
	dTheta := Value{Unit: "°C", Parts: []Part{{Name: "temperature difference", U: 0.05 / math.Sqrt(3), DOF: 2, Shape: Rectangular}}}
	// θ = -0.1 °C from the 20 °C of reference: 0.2 °C mean, and a cycle of ±0.5 °C.
	theta := Value{X: -0.1, Unit: "°C", Parts: []Part{{Name: "room mean", U: 0.2}, {Name: "room cycle", U: 0.5 / math.Sqrt2, Shape: Arcsine}}}
	l := Combine("nm", func(v []float64) float64 {
		ls, d, dAlpha, theta, alpha, dTheta := v[0], v[1], v[2], v[3], v[4], v[5]
		return ls + d - ls*(dAlpha*theta+alpha*dTheta)
	}, ls, d, dAlpha, theta, alpha, dTheta)
	checkClose(t, "l", l.X, 50_000_838, 0.5)
	checkClose(t, "u_c", l.U(), 31.7, 0.06)
	checkClose(t, "ν_eff", l.DOF(), 16.7, 0.1)
	for name, want := range map[string]float64{"standard": 25, "expansion difference": 2.9, "temperature difference": 16.6} {
		for _, s := range l.Budget() {
			if s.Name == name {
				checkClose(t, "contribution of "+name, s.U, want, 0.05)
			}
		}
	}
	// U99 = t99(16) u_c = 2.92 × 31.7 = 92.5 nm (93 nm from the rounded u_c).
	lo, hi := l.Interval(0.99)
	checkClose(t, "U99", (hi-lo)/2, 92.5, 0.2)
	// H.1.7: with the terms of second order u_c is 34 nm, which first order
	// cannot give and a simulation does.
	s, err := MonteCarlo("nm", func(v []float64) float64 {
		return v[0] + v[1] - v[0]*(v[2]*v[3]+v[4]*v[5])
	}, 400_000, 1,
		knownWell(ls), knownWell(d), knownWell(dAlpha), theta, alpha, knownWell(dTheta))
	if err != nil {
		t.Fatal(err)
	}
	checkClose(t, "u_c with second order", s.SD, 33.8, 0.3)
}

// knownWell returns v with infinitely many degrees of freedom, so that a drawn
// t distribution does not widen the result.
func knownWell(v Value) Value {
	v.Parts = append([]Part(nil), v.Parts...)
	for i := range v.Parts {
		v.Parts[i].DOF = 0
	}
	return v
}

// GUM H.2: resistance, reactance and impedance from voltage, current and phase
// read together five times (Tables H.2 to H.4).
func TestGUMH2Impedance(t *testing.T) {
	volts := []float64{5.007, 4.994, 5.005, 4.990, 4.999}
	milliamps := []float64{19.663, 19.639, 19.640, 19.685, 19.678}
	radians := []float64{1.0456, 1.0438, 1.0468, 1.0428, 1.0433}
	in, err := AverageTogether("reading", []string{"V", "mA", "rad"}, volts, milliamps, radians)
	if err != nil {
		t.Fatal(err)
	}
	correlation := func(a, b Value) float64 {
		sum, ua, ub := a.Add(b.As(a.Unit)).U(), a.U(), b.U()
		return (sum*sum - ua*ua - ub*ub) / (2 * ua * ub)
	}
	checkClose(t, "r(V, I)", correlation(in[0], in[1]), -0.36, 0.006)
	checkClose(t, "r(V, φ)", correlation(in[0], in[2]), 0.86, 0.006)
	checkClose(t, "r(I, φ)", correlation(in[1], in[2]), -0.65, 0.006)
	ohms := func(f func(v, i, phi float64) float64) Value {
		return Combine("Ω", func(x []float64) float64 { return f(x[0], x[1]/1000, x[2]) }, in...)
	}
	R := ohms(func(v, i, phi float64) float64 { return v / i * math.Cos(phi) })
	X := ohms(func(v, i, phi float64) float64 { return v / i * math.Sin(phi) })
	Z := ohms(func(v, i, phi float64) float64 { return v / i })
	checkClose(t, "R", R.X, 127.732, 0.0006)
	checkClose(t, "X", X.X, 219.847, 0.0006)
	checkClose(t, "Z", Z.X, 254.260, 0.0006)
	checkClose(t, "u(R)", R.U(), 0.071, 0.001)
	checkClose(t, "u(X)", X.U(), 0.295, 0.001)
	checkClose(t, "u(Z)", Z.U(), 0.236, 0.001)
	checkClose(t, "r(R, X)", correlation(R, X), -0.588, 0.001)
	checkClose(t, "r(R, Z)", correlation(R, Z), -0.485, 0.001)
	checkClose(t, "r(X, Z)", correlation(X, Z), 0.993, 0.001)
	// Why it matters: with the correlations ignored u(R) would be 0.195 Ω.
	loose := make([]Value, 3)
	for i, name := range []string{"V", "I", "φ"} {
		loose[i] = in[i].Named(name)
	}
	apart := Combine("Ω", func(x []float64) float64 { return x[0] / x[1] * 1000 * math.Cos(x[2]) }, loose...)
	checkClose(t, "u(R) without correlations", apart.U(), 0.195, 0.001)
}

// GUM H.3: a calibration line for a thermometer, whose intercept and slope are
// correlated, and the correction it predicts at 30 °C.
func TestGUMH3CalibrationLine(t *testing.T) {
	degrees := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	correction := []float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160}
	const t0 = 20.0
	n := float64(len(degrees))
	var sx, sxx, sy, sxy float64
	for i, at := range degrees {
		x := at - t0
		sx, sxx, sy, sxy = sx+x, sxx+x*x, sy+correction[i], sxy+x*correction[i]
	}
	det := n*sxx - sx*sx
	y1, y2 := (sxx*sy-sx*sxy)/det, (n*sxy-sx*sy)/det
	var s2 float64
	for i, at := range degrees {
		r := correction[i] - y1 - y2*(at-t0)
		s2 += r * r / (n - 2)
	}
	line, err := Correlated("line", []string{"°C", ""}, []float64{y1, y2},
		[][]float64{{s2 * sxx / det, -s2 * sx / det}, {-s2 * sx / det, s2 * n / det}}, n-2)
	if err != nil {
		t.Fatal(err)
	}
	checkClose(t, "intercept", line[0].X, -0.1712, 0.00005)
	checkClose(t, "slope", line[1].X, 0.00218, 0.000005)
	checkClose(t, "s(intercept)", line[0].U(), 0.0029, 0.00005)
	checkClose(t, "s(slope)", line[1].U(), 0.00067, 0.000005)
	at30 := line[0].Add(line[1].Scale(30-t0, "°C"))
	checkClose(t, "b(30 °C)", at30.X, -0.1494, 0.00005)
	checkClose(t, "u(b(30 °C))", at30.U(), 0.0041, 0.00005)
	// Without the correlation it would be 0.0073.
	loose := line[0].Named("intercept").Add(line[1].Named("slope").Scale(30-t0, "°C"))
	checkClose(t, "u without the correlation", loose.U(), 0.0073, 0.00005)
}

// JCGM 101:2008, 9.2.2 and 9.2.3: the sum of four normal quantities of standard
// deviation 1 lies within ±3.92, of four rectangular ones within ±3.88 (exactly
// 3.8794), with 95 %. 9.2.4 (from memory): with one of them ten times as wide
// ±17.0.
func TestJCGM101Additive(t *testing.T) {
	draws := 1_000_000
	tol := 0.01
	if testing.Short() {
		draws, tol = 100_000, 0.03
	}
	sum := func(x []float64) float64 { return x[0] + x[1] + x[2] + x[3] }
	rectangle := func(sd float64, name string) Value { return Within(0, sd*math.Sqrt(3), "", name) }
	for _, c := range []struct {
		name     string
		in       []Value
		half, sd float64
		scale    float64
	}{
		{"four normal", []Value{Measured(0, 1, "", "a"), Measured(0, 1, "", "b"), Measured(0, 1, "", "c"), Measured(0, 1, "", "d")}, 3.92, 2, 1},
		{"four rectangular", []Value{rectangle(1, "a"), rectangle(1, "b"), rectangle(1, "c"), rectangle(1, "d")}, 3.88, 2, 1},
		{"one dominating", []Value{rectangle(1, "a"), rectangle(1, "b"), rectangle(1, "c"), rectangle(10, "d")}, 17.0, 10.149, 5},
	} {
		s, err := MonteCarlo("", sum, draws, 7, c.in...)
		if err != nil {
			t.Fatal(err)
		}
		checkClose(t, c.name+": SD", s.SD, c.sd, tol*c.scale)
		checkClose(t, c.name+": upper end", s.Hi95, c.half, tol*c.scale)
		checkClose(t, c.name+": lower end", s.Lo95, -c.half, tol*c.scale)
		lo, hi := s.Shortest(0.95)
		checkClose(t, c.name+": shortest interval", (hi-lo)/2, c.half, 2*tol*c.scale)
		// The first-order rule gives the same standard deviation.
		checkClose(t, c.name+": first order", Combine("", sum, c.in...).U(), c.sd, 0.001)
	}
}

// National Physical Laboratory, report DEM-ES-011, 9.2: y = ln x for x between
// 0.1 and 1.1. First order gives -0.511 ± 0.481; the truth is -0.665 ± 0.606
// with the shortest 95 % interval -1.895 to 0.095 (exactly -1.8971 to 0.0953).
func TestNPLLogarithm(t *testing.T) {
	x := Within(0.6, 0.5, "", "x")
	log := func(x []float64) float64 { return math.Log(x[0]) }
	first := Combine("", log, x)
	checkClose(t, "first order", first.X, -0.511, 0.0005)
	checkClose(t, "u, first order", first.U(), 0.481, 0.0005)
	s, err := MonteCarlo("", log, 500_000, 3, x)
	if err != nil {
		t.Fatal(err)
	}
	checkClose(t, "mean", s.Mean, -0.665, 0.003)
	checkClose(t, "SD", s.SD, 0.606, 0.003)
	lo, hi := s.Shortest(0.95)
	checkClose(t, "shortest, lower end", lo, -1.897, 0.01)
	checkClose(t, "shortest, upper end", hi, 0.0953, 0.001)
}

// NIST Technical Note 1900 (Possolo 2015), example E13: the thermal expansion of
// a copper bar from 1.4999 m at 288.15 K to 1.5021 m at 373.10 K has the
// coefficient 1.7266e-5 ± 1.76e-6 per kelvin.
func TestTN1900Expansion(t *testing.T) {
	l0, l1 := Measured(1.4999, 0.0001, "m", "l0"), Measured(1.5021, 0.0002, "m", "l1")
	t0, t1 := Measured(288.15, 0.02, "K", "t0"), Measured(373.10, 0.05, "K", "t1")
	alpha := Combine("1/K", func(x []float64) float64 { return (x[1] - x[0]) / (x[0] * (x[3] - x[2])) }, l0, l1, t0, t1)
	checkClose(t, "α", alpha.X, 1.7266e-5, 0.5e-9)
	checkClose(t, "u(α)", alpha.U(), 1.76e-6, 0.005e-6)
	byHand := l1.Sub(l0).Div(l0.Mul(t1.Sub(t0)))
	checkClose(t, "α by arithmetic", byHand.X, alpha.X, 1e-18)
	checkClose(t, "u(α) by arithmetic", byHand.U(), alpha.U(), 1e-11)
	if byHand.Unit != "1/K" {
		t.Errorf("α by arithmetic is in %q", byHand.Unit)
	}
}

// NIST Statistical Reference Datasets, NumAcc1: 10000001, 10000003, 10000002
// have the mean 10000002 and the standard deviation 1, exactly.
func TestNumAcc1(t *testing.T) {
	v, err := Average("", "repeat", 10000001, 10000003, 10000002)
	if err != nil {
		t.Fatal(err)
	}
	if v.X != 10000002 || math.Abs(v.U()-1/math.Sqrt(3)) > 1e-15 || math.Abs(v.DOF()-2) > 1e-12 {
		t.Errorf("NumAcc1: %v ± %v with %v degrees of freedom", v.X, v.U(), v.DOF())
	}
}
