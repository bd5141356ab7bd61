package linefit

import (
	"math"
	"math/rand/v2"
	"testing"
)

// stack returns harmonics 1, 2, ... of a rate that starts at f in the middle of
// the record and rises by r Hz/s.
func stack(n int, fs, f, r float64, amps []float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		t := (float64(i) - float64(n-1)/2) / fs
		phi := 2 * math.Pi * (f*t + r*t*t/2)
		for m, a := range amps {
			x[i] += a * math.Cos(float64(m+1)*phi+float64(m))
		}
	}
	return x
}

func orders(n int) (o, noise []float64) {
	for m := 1; m <= n; m++ {
		o, noise = append(o, float64(m)), append(noise, 1)
	}
	return o, noise
}

// The information matrix of the fit must be that of the published bounds:
// harmonic, var(f0) = 24 s^2 fs^2/((2 pi)^2 N(N^2-1) sum m^2 A_m^2)
// (Christensen and Jakobsson 2009; figures from the inverse Fisher matrix).
func TestCovarianceIsTheHarmonicBound(t *testing.T) {
	for _, c := range []struct {
		amps []float64
		sd   float64
	}{
		{[]float64{1}, 0.11232},
		{[]float64{1, 0.5, 0.25}, 0.070313},
		{[]float64{1, 1, 1, 1, 1}, 0.015248},
	} {
		x := stack(4800, 48000, 997.3, 0, c.amps)
		o, noise := orders(len(c.amps))
		f := &Fit{Rate: 48000, Orders: o, Noise: noise, Coef: []float64{997}}
		if err := f.Run(x, 8); err != nil {
			t.Fatal(err)
		}
		if math.Abs(f.Coef[0]-997.3) > 1e-6 {
			t.Errorf("%d harmonics: rate %.8f, want 997.3", len(c.amps), f.Coef[0])
		}
		if got := math.Sqrt(f.Cov.At(0, 0)); math.Abs(got/c.sd-1) > 0.01 {
			t.Errorf("%d harmonics: standard deviation %.5f Hz, the bound is %.5f", len(c.amps), got, c.sd)
		}
	}
}

// Linear chirp: sd of the rate of change 8.71704 Hz/s for N = 4800, fs = 48 kHz,
// A = s = 1 (Djuric and Kay 1990, from memory; the number is that of the inverse
// Fisher matrix).
func TestCovarianceIsTheChirpBound(t *testing.T) {
	x := stack(4800, 48000, 3000, 2000, []float64{1})
	f := &Fit{Rate: 48000, Orders: []float64{1}, Noise: []float64{1}, Coef: []float64{3000.4, 1990}}
	if err := f.Run(x, 10); err != nil {
		t.Fatal(err)
	}
	if math.Abs(f.Coef[1]-2000) > 1e-3 {
		t.Errorf("rate of change %.5f Hz/s, want 2000", f.Coef[1])
	}
	if got := math.Sqrt(f.Cov.At(1, 1)); math.Abs(got/8.717-1) > 0.01 {
		t.Errorf("standard deviation %.4f Hz/s, the bound is 8.717", got)
	}
}

func TestErrorsReachTheBound(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	const draws = 300
	sum := 0.0
	for range draws {
		f0 := 60 + 300*r.Float64()
		x := stack(4000, 8000, f0, 0, []float64{0.3, 0.2, 0.3})
		for i := range x {
			x[i] += r.NormFloat64()
		}
		o, noise := orders(3)
		f := &Fit{Rate: 8000, Orders: o, Noise: noise, Coef: []float64{f0 + 0.1*r.NormFloat64()}}
		if err := f.Run(x, 8); err != nil {
			t.Fatal(err)
		}
		e := f.Coef[0] - f0
		sum += e * e / f.Cov.At(0, 0)
	}
	// chi-squared with 300 degrees of freedom: sd 0.08, four of them
	if c := sum / draws; c < 0.68 || c > 1.33 {
		t.Errorf("mean squared error over the stated variance %.2f, want 1 ± 0.33", c)
	}
}

// With one coefficient the sums of products have a closed form; with a second one
// that is zero they are added up: both are the same problem.
func TestProductsInClosedFormAreTheSums(t *testing.T) {
	x := stack(1500, 8000, 211.7, 0, []float64{1, 0.4, 0.2, 0.7})
	o, noise := orders(4)
	closed := &Fit{Rate: 8000, Orders: o, Noise: noise, Coef: []float64{212}}
	summed := &Fit{Rate: 8000, Orders: o, Noise: noise, Coef: []float64{212, 0}}
	for _, f := range []*Fit{closed, summed} {
		if err := f.Run(x, 0); err != nil {
			t.Fatal(err)
		}
	}
	for i := range closed.Residual {
		// the sums of 1500 products are right to some 1e-13
		if d := closed.Residual[i] - summed.Residual[i]; math.Abs(d) > 1e-10 {
			t.Fatalf("sample %d: residual %.12f in closed form, %.12f by sums", i, closed.Residual[i], summed.Residual[i])
		}
	}
}

func TestTooFewSamplesIsAnError(t *testing.T) {
	o, noise := orders(5)
	f := &Fit{Rate: 8000, Orders: o, Noise: noise, Coef: []float64{100}}
	if err := f.Run(make([]float64, 20), 3); err != ErrSingular {
		t.Errorf("20 samples for 5 harmonics: error %v, want ErrSingular", err)
	}
}
