package tacho

import (
	"errors"
	"math"
	"testing"
)

// The bearing data centre of Case Western Reserve University publishes the
// geometry of a 6205-2RS bearing and the defect frequencies as multiples of the
// shaft speed; those of the 6203-2RS too, whose geometry is from memory. Its
// cage figure of the 6205, 0.39828, is rounded wrongly in the fifth digit: the
// geometry gives 0.39831, and so does the outer ring's 3.5848 / 9.
func TestBearingOrders(t *testing.T) {
	for _, c := range []struct {
		bearing Bearing
		want    BearingOrders
	}{
		{Bearing{Balls: 9, Ball: 0.3126, Pitch: 1.537}, BearingOrders{5.4152, 3.5848, 0.39828, 4.7135}},
		{Bearing{Balls: 8, Ball: 0.2656, Pitch: 1.122}, BearingOrders{4.9469, 3.0530, 0.3817, 3.9874}},
	} {
		got, err := c.bearing.Orders()
		if err != nil {
			t.Fatal(err)
		}
		for i, d := range []float64{got.Inner - c.want.Inner, got.Outer - c.want.Outer, got.Cage - c.want.Cage, got.Ball - c.want.Ball} {
			if math.Abs(d) > 4e-4 {
				t.Errorf("%+v, order %d differs by %.5f from the published", c.bearing, i, d)
			}
		}
		// Identities: every ball passes both rings, and the cage carries them.
		z := float64(c.bearing.Balls)
		if math.Abs(got.Inner+got.Outer-z) > 1e-12 || math.Abs(got.Outer-z*got.Cage) > 1e-12 {
			t.Errorf("%+v: inner %v + outer %v, cage %v", c.bearing, got.Inner, got.Outer, got.Cage)
		}
	}
	angled, err := Bearing{Balls: 12, Ball: 8, Pitch: 40, Contact: 60}.Orders()
	if err != nil || math.Abs(angled.Inner-6.6) > 1e-12 {
		t.Errorf("at 60°, where the cosine is a half: %v, %v", angled, err)
	}
	for _, b := range []Bearing{{}, {0, 1, 4, 0}, {9, 4, 3, 0}, {9, 0, 3, 0}, {9, math.NaN(), 3, 0}, {9, 1, math.Inf(1), 0}, {9, 1, 4, 90}, {13, 1, 4, 0}} {
		if o, err := b.Orders(); !errors.Is(err, ErrOption) {
			t.Errorf("%+v: %v, %v, want ErrOption", b, o, err)
		}
	}
}
