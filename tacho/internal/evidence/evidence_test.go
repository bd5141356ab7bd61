package evidence

import (
	"math"
	"testing"
)

// ratio is the evidence of a line at z by its definition, without a table.
func ratio(z, present, stranger float64) float64 {
	a, b := densities()
	return weighed(z, a.at(z), b.at(z), present, stranger)
}

func TestLineAgreesWithItsDefinition(t *testing.T) {
	l := New(0.6, 1e-3)
	// the table is linear between steps of 1/16: its error is far below a nat
	const tol = 0.01
	for _, z := range []float64{0, 0.03, 0.5, 1.77, 5.01, 11.3, 40, 150, 500, 1e4} {
		if got, want := l.At(z), ratio(z, 0.6, 1e-3); math.Abs(got-want) > tol+0.02*math.Log1p(z/zMax) {
			t.Errorf("At(%v) = %.4f, the definition gives %.4f", z, got, want)
		}
	}
}

func TestLineIsBoundedAndRises(t *testing.T) {
	l := New(0.75, 1e-3)
	last := math.Inf(-1)
	for z := 0.0; z < 300; z += 0.25 {
		v := l.At(z)
		if v < last-1e-9 {
			t.Fatalf("At(%v) = %v falls below At before it, %v", z, v, last)
		}
		last = v
	}
	// nothing heard costs at most the prior of a line being there
	if v, least := l.At(0), math.Log(1-0.75); v < least {
		t.Errorf("At(0) = %v, below ln(1-present) = %v", v, least)
	}
	// ten times the power of a loud line is worth about 0.6 ln 10 more, the
	// difference of the tails: a loud stranger cannot shout a stack down
	if d := l.At(1e5) - l.At(1e4); d < 0.5 || d > 2.5 {
		t.Errorf("a line ten times as loud gains %v nats, want 0.5 to 2.5", d)
	}
	for _, z := range []float64{math.NaN(), -1, math.Inf(-1)} {
		if l.At(z) != l.At(0) {
			t.Errorf("At(%v) = %v, want what no power gives, %v", z, l.At(z), l.At(0))
		}
	}
	if v := l.At(math.Inf(1)); math.IsInf(v, 0) || math.IsNaN(v) {
		t.Errorf("At(+Inf) = %v, want a bounded number", v)
	}
	if p := l.Posterior(0); p > 0.5 {
		t.Errorf("probability of a line where there is no power: %v", p)
	}
	if p := l.Posterior(50); p < 0.99 {
		t.Errorf("probability of a line at 50 times the noise: %v", p)
	}
}

func TestCurveAgreesWithItsLine(t *testing.T) {
	for _, present := range []float64{0.3, 0.7} {
		l := New(present, 2e-3)
		c := l.Curve()
		for u := -20.0; u < 30; u += 0.013 {
			if got, want := float64(c.At(float32(u))), l.At(math.Exp2(u)); math.Abs(got-want) > 0.05 {
				t.Errorf("present %v: the curve gives %.4f at 2^%.3f, the line %.4f", present, got, u, want)
			}
		}
	}
}

func TestOrderSumIsTheAverageOverItsEnds(t *testing.T) {
	o := NewOrder(6)
	place := []float64{3, -0.5, 7, -1, 0.2}
	var num, den, run float64
	for l := 1; l <= len(place); l++ {
		run += place[l-1]
		num += math.Exp(run) / float64(l+1)
		den += 1 / float64(l+1)
	}
	if got, want := o.Sum(place), math.Log(num/den); math.Abs(got-want) > 1e-12 {
		t.Errorf("Sum = %v, want %v", got, want)
	}
	if o.Max(place) > o.Sum(place)+math.Log(den)+1e-12 {
		t.Errorf("Max = %v is above what Sum = %v allows", o.Max(place), o.Sum(place))
	}
	w := o.Weights(place)
	for i := 1; i < len(w); i++ {
		if w[i] > w[i-1]+1e-12 || w[i] < 0 || w[i] > 1 {
			t.Errorf("Weights = %v: they must fall from 1 towards 0", w)
			break
		}
	}
	if o.Sum(nil) != 0 {
		t.Error("a stack without places is evidence of nothing, want 0")
	}
}
