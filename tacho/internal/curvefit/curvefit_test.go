package curvefit

import (
	"math"
	"testing"
)

// The data, starts and certified values are those of the NIST Statistical
// Reference Datasets (StRD), nonlinear regression, and Norris of linear
// regression.
func TestStatisticalReferenceDatasets(t *testing.T) {
	growth := func(x float64, p, slope []float64) float64 {
		e := math.Exp(-p[1] * x)
		slope[0], slope[1] = 1-e, p[0]*x*e
		return p[0] * (1 - e)
	}
	power := func(x float64, p, slope []float64) float64 {
		e := math.Pow(x, p[1])
		slope[0], slope[1] = e, p[0]*e*math.Log(x)
		return p[0] * e
	}
	logistic := func(x float64, p, slope []float64) float64 {
		e := math.Exp(p[1] - p[2]*x)
		slope[0] = 1 / (1 + e)
		slope[1] = -p[0] * e / ((1 + e) * (1 + e))
		slope[2] = -slope[1] * x
		return p[0] / (1 + e)
	}
	for _, c := range []struct {
		name   string
		model  Model
		x, y   []float64
		starts [2][]float64
		p, sd  []float64
		rss    float64
	}{
		{"Misra1a", growth,
			[]float64{77.6, 114.9, 141.1, 190.8, 239.9, 289, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760},
			[]float64{10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.4, 75.47, 81.78},
			[2][]float64{{500, 0.0001}, {250, 0.0005}},
			[]float64{2.3894212918e+02, 5.5015643181e-04}, []float64{2.7070075241e+00, 7.2668688436e-06}, 1.2455138894e-01},
		{"BoxBOD", growth,
			[]float64{1, 2, 3, 5, 7, 10}, []float64{109, 149, 149, 191, 213, 224},
			[2][]float64{{1, 1}, {100, 0.75}},
			[]float64{2.1380940889e+02, 5.4723748542e-01}, []float64{1.2354515176e+01, 1.0455993237e-01}, 1.1680088766e+03},
		{"DanWood", power,
			[]float64{1.309, 1.471, 1.49, 1.565, 1.611, 1.68}, []float64{2.138, 3.421, 3.597, 4.34, 4.882, 5.66},
			[2][]float64{{1, 5}, {0.7, 4}},
			[]float64{7.6886226176e-01, 3.8604055871e+00}, []float64{1.8281973860e-02, 5.1726610913e-02}, 4.3173084083e-03},
		{"Rat42", logistic,
			[]float64{9, 14, 21, 28, 42, 57, 63, 70, 79},
			[]float64{8.93, 10.8, 18.59, 22.33, 39.35, 56.11, 61.73, 64.62, 67.08},
			[2][]float64{{100, 1, 0.1}, {75, 2.5, 0.07}},
			[]float64{7.2462237576e+01, 2.6180768402e+00, 6.7359200066e-02},
			[]float64{1.7340283401e+00, 8.8295217536e-02, 3.4465663377e-03}, 8.0565229338e+00},
	} {
		for i, start := range c.starts {
			f, err := Points(c.model, c.x, c.y, nil, start)
			if err != nil {
				t.Errorf("%s, start %d: %v", c.name, i+1, err)
				continue
			}
			near(t, c.name+" rss", f.Chi2, c.rss, 1e-9)
			for k := range c.p {
				near(t, c.name, f.P[k], c.p[k], 1e-7)
				sd := math.Sqrt(f.Inverse.At(k, k) * f.Chi2 / float64(len(c.x)-len(c.p)))
				near(t, c.name+" sd", sd, c.sd[k], 1e-7)
			}
		}
	}
}

func near(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Errorf("%s: %.11g, want %.11g", what, got, want)
	}
}

func TestUncertaintiesWeigh(t *testing.T) {
	constant := func(_ float64, p, slope []float64) float64 { slope[0] = 1; return p[0] }
	f, err := Points(constant, []float64{0, 1}, []float64{10, 20}, []float64{1, 2}, []float64{5})
	if err != nil {
		t.Fatal(err)
	}
	// the weighted mean (10/1 + 20/4)/(1 + 1/4) = 12 and its variance 1/(1 + 1/4)
	near(t, "mean", f.P[0], 12, 1e-12)
	near(t, "variance", f.Inverse.At(0, 0), 0.8, 1e-12)
}

func TestRefusals(t *testing.T) {
	twice := func(x float64, p, slope []float64) float64 { slope[0], slope[1] = x, x; return (p[0] + p[1]) * x }
	if _, err := Points(twice, []float64{1, 2, 3}, []float64{1, 2, 3}, nil, []float64{1, 1}); err != ErrSingular {
		t.Errorf("two constants that do the same: %v, want ErrSingular", err)
	}
	none := func(float64, []float64, []float64) float64 { return math.NaN() }
	if _, err := Points(none, []float64{1, 2}, []float64{1, 2}, nil, []float64{1}); err != ErrDiverged {
		t.Errorf("no curve at all: %v, want ErrDiverged", err)
	}
}
