package tacho

import (
	"errors"
	"math"
	"testing"
)

// OpenStax University Physics 1, section 17.7, examples and problems; the book
// rounds to whole hertz.
func TestDopplerAgainstTextbook(t *testing.T) {
	is := valueIs(t)
	ms := func(x float64) Value { return Exact(x, "m/s") }
	still := ms(0)
	for _, c := range []struct {
		what            string
		tone            float64
		source, hearer  Value
		c, want, within float64
	}{
		{"train of 150 Hz, coming", 150, ms(35), still, 340, 167, 0.5},
		{"train of 150 Hz, going", 150, ms(-35), still, 340, 136, 0.5},
		{"800 Hz at 110 km/h, coming", 800, Exact(110, "km/h"), still, 345, 878, 0.5},
		{"800 Hz at 110 km/h, going", 800, Exact(-110, "km/h"), still, 345, 735, 0.5},
		{"hawk of 3500 Hz at 25 m/s", 3500, ms(25), still, 331, 3790, 5},
		{"the slowest whose shift of 0.300 % is heard", 1000, ms(0.990), still, 331, 1003, 0.005},
	} {
		f, err := Doppler(Exact(c.tone, "Hz"), c.source, c.hearer, ms(c.c))
		is(c.what, f, err, c.want, "Hz", c.within/c.want)
	}
	v, err := DopplerSpeed(Exact(200, "Hz"), Exact(208, "Hz"), ms(335))
	is("200 Hz heard as 208", v, err, 12.9, "m/s", 5e-3)
	f, err := Doppler(Exact(200, "Hz"), v.Scale(-1, "m/s"), still, ms(335))
	is("and while it goes", f, err, 193, "Hz", 0.5/193)
	// Whoever hears it: a listener who moves does not shift it as much.
	f, err = Doppler(Exact(1000, "Hz"), still, ms(34), ms(340))
	is("a moving listener", f, err, 1100, "Hz", 1e-12)
	f, err = Doppler(Exact(1000, "Hz"), ms(34), ms(-34), ms(340))
	is("one that runs ahead of the source", f, err, 1000, "Hz", 1e-12)
}

// A pass-by gives back the speed and the tone that it was made from, and their
// uncertainties follow from the tones.
func TestPassBy(t *testing.T) {
	c := Measured(343.2, 1.2, "m/s", "air")
	tone, v := Exact(90, "Hz"), Exact(6, "m/s")
	coming, err := Doppler(tone, v, Exact(0, "m/s"), Exact(343.2, "m/s"))
	if err != nil {
		t.Fatal(err)
	}
	going, _ := Doppler(tone, v.Scale(-1, "m/s"), Exact(0, "m/s"), Exact(343.2, "m/s"))
	coming.Parts, going.Parts = []Part{{Name: "coming", U: 0.05}}, []Part{{Name: "going", U: 0.05}}
	speed, rest, err := PassBy(coming, going, c)
	is := valueIs(t)
	is("speed", speed, err, 6, "m/s", 1e-12)
	is("tone", rest, err, 90, "Hz", 1e-12)
	// dv = c/(2f)·√2·u to first order, and v·u(c)/c.
	near(t, "u of the speed", speed.U(), math.Hypot(343.2/180*math.Sqrt2*0.05, 6*1.2/343.2), 1e-3)
	for what, err := range map[string]error{
		"a rising tone":   third(PassBy(Exact(90, "Hz"), Exact(91, "Hz"), c)),
		"no tone":         third(PassBy(Exact(0, "Hz"), Exact(0, "Hz"), c)),
		"silent sound":    second(Doppler(tone, v, v, Exact(0, "m/s"))),
		"as fast as it":   second(Doppler(tone, Exact(343.2, "m/s"), v, c)),
		"a listener, too": second(Doppler(tone, v, Exact(-400, "m/s"), c)),
		"a negative tone": second(DopplerSpeed(Exact(-1, "Hz"), tone, c)),
		"no number":       second(Doppler(tone, Exact(math.NaN(), "m/s"), v, c)),
	} {
		if !errors.Is(err, ErrOption) {
			t.Errorf("%s: %v, want ErrOption", what, err)
		}
	}
	if err := second(Doppler(Exact(1, "rev/s"), v, v, c)); !errors.Is(err, ErrUnit) {
		t.Errorf("a speed for a tone: %v", err)
	}
	if err := second(DopplerSpeed(tone, tone, Exact(20, "°C"))); !errors.Is(err, ErrUnit) {
		t.Errorf("a temperature for a speed: %v", err)
	}
}

func third(_, _ Value, err error) error { return err }
