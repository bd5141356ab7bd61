package evidence

import (
	"math"
	"testing"
)

// one returns what lines of the given powers say one by one, and all together when
// they may be alike.
func one(powers []float64) (single, alike float64) {
	line, order := New(0.75, 1e-3), NewOrder(30)
	place := make([]float64, len(powers))
	for i, z := range powers {
		place[i] = line.At(z)
	}
	return order.Sum(place), NewAlike(0.9, 1e-3).Sum(order, line, powers, nil)
}

// With one level and one number of lines the evidence has a closed form: the
// likelihood ratio of an exponential density of mean 1+rho to one of mean 1 is
// exp(z rho/(1+rho))/(1+rho).
func TestAlikeAgreesWithTheClosedForm(t *testing.T) {
	const present = 0.9
	a := NewAlike(present, 1e-9)
	for i, l := range a.levels {
		rho := rhoMin * math.Pow(2, float64(i))
		for _, z := range []float64{0, 1, 4, 9} {
			if got, want := l.At(z), math.Log(1-present+present*math.Exp(z*rho/(1+rho))/(1+rho)); math.Abs(got-want) > 0.02 {
				t.Errorf("level %g, z %g: %.3f nats, the closed form gives %.3f", rho, z, got, want)
			}
		}
	}
	sum := 0.0
	for _, w := range a.weight {
		sum += math.Exp(w)
	}
	if !(sum < 1) {
		t.Errorf("prior of all levels adds up to %g, want less than one: there are louder ones", sum)
	}
}

func TestAlikeLinesSayMoreTogether(t *testing.T) {
	noise := []float64{0.2, 1.4, 0.7, 0.9, 0.1, 2.1, 0.4}
	single, alike := one(append([]float64{6, 5, 7, 6, 5}, noise...))
	if alike < single+1 {
		t.Errorf("five lines alike: %.2f nats together, %.2f one by one; want a nat more", alike, single)
	}
	// one loud line and a quiet one are not alike, and lose no more than the doubt
	single, alike = one(append([]float64{5000, 4, 0.5}, noise...))
	if alike < single-math.Ln2-1e-9 {
		t.Errorf("lines that differ: %.2f nats, %.2f one by one; want at most ln 2 less", alike, single)
	}
	// noise stays noise
	if _, alike = one(noise); alike > 0 {
		t.Errorf("noise alone speaks for lines: %.2f nats", alike)
	}
}
