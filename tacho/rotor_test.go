package tacho

import (
	"errors"
	"math"
	"testing"
)

// near reports a got that is farther from want than the relative tolerance.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Abs(want)) {
		t.Errorf("%s = %.9g, want %.9g within %.2g relative; off by %.2f tolerances",
			what, got, want, tolerance, math.Abs(got-want)/(tolerance*math.Abs(want)))
	}
}

// valueIs returns a function that checks the number and unit of a result.
func valueIs(t *testing.T) func(what string, v Value, err error, want float64, unit string, tolerance float64) {
	return func(what string, v Value, err error, want float64, unit string, tolerance float64) {
		t.Helper()
		if err != nil {
			t.Errorf("%s: %v", what, err)
			return
		}
		if v.Unit != unit {
			t.Errorf("%s has the unit %q, want %q", what, v.Unit, unit)
		}
		near(t, what, v.X, want, tolerance)
	}
}

const printed = 0.5e-3 // relative: the published numbers have three or four digits

// Common practice, no source: a three-lobed rotor heard at 187.5 Hz turns at
// 62.5 rev/s = 3750 rpm, and at a tip radius of 4 cm its tips move at 15.7 m/s
// = 56.5 km/h = 35.1 mile/h.
func TestThreeLobedRotor(t *testing.T) {
	is := valueIs(t)
	r := Rotor{Name: "three-lobed rotor", Pulses: 3, Radius: Exact(0.04, "m")}
	tone := Exact(187.5, "Hz")
	const exact = 1e-15
	v, err := r.Speed(tone)
	is("speed", v, err, 62.5, "rev/s", exact)
	v, err = r.RPM(tone)
	is("rpm", v, err, 3750, "rpm", exact)
	v, err = r.Tone(Exact(3750, "rpm"))
	is("tone", v, err, 187.5, "Hz", exact)
	v, err = r.AngularSpeed(tone)
	is("angular speed", v, err, 392.699, "rad/s", 1e-5)
	tip, err := r.TipSpeed(tone)
	is("tip speed", tip, err, 15.7, "m/s", 1e-2/3)
	// Half of the last printed digit.
	for _, want := range []Value{Exact(56.5, "km/h"), Exact(35.1, "mile/h")} {
		v, err := tip.To(want.Unit)
		is("tip speed", v, err, want.X, want.Unit, 0.05/want.X)
	}
}

// The worked examples and answers of OpenStax College Physics (CP) and
// University Physics 1 (UP1), chapter in the text; tolerances are those of the
// rounding in the book, and two of its answers use a rounded intermediate.
func TestTextbookRotors(t *testing.T) {
	is := valueIs(t)
	cm := func(x float64) Rotor { return Rotor{Pulses: 1, Radius: Exact(x/100, "m")} }
	rpm := func(x float64) Value { return Exact(x, "rpm") }

	// CP 6.2, example: ultracentrifuge, 7.50 cm, 7.5e4 rev/min.
	a, err := cm(7.5).Acceleration(rpm(7.5e4))
	is("ultracentrifuge", a, err, 4.63e6, "m/s²", 2e-3)
	a, err = cm(7.5).GLoad(rpm(7.5e4))
	is("ultracentrifuge", a, err, 472000, "g", 2e-3)
	// CP 6.2, problem: grindstone, 7.50 cm, 6500 rev/min.
	a, err = cm(7.5).Acceleration(rpm(6500))
	is("grindstone", a, err, 3.47e4, "m/s²", 5e-3)
	a, err = cm(7.5).GLoad(rpm(6500))
	is("grindstone", a, err, 3.55e3, "g", 5e-3)
	a, err = cm(7.5).TipSpeed(rpm(6500))
	is("grindstone", a, err, 51.1, "m/s", 1e-3)
	// CP 6.2, problem: 0.100 m at 50 000 rev/min, 0.524 km/s.
	a, err = cm(10).TipSpeed(rpm(50000))
	is("ultracentrifuge rim", a, err, 524, "m/s", 1e-3)
	// CP 6.2, problem: a skater's spin, 0.120 m at 5 rev/s and a record 9 rev/s.
	a, err = cm(12).AngularSpeed(Exact(5, "rev/s"))
	is("skater", a, err, 31.4, "rad/s", 2e-3)
	a, err = cm(12).Acceleration(Exact(5, "rev/s"))
	is("skater", a, err, 118, "m/s²", 5e-3)
	a, err = cm(12).Acceleration(Exact(9, "rev/s"))
	is("skater", a, err, 384, "m/s²", 5e-3)
	// UP1 4.4, problem: fan, 360.0 rev/min, 10.0 cm. The book's 144 m/s² comes
	// from the rounded 3.8 m/s; the unrounded answer is 142.1.
	a, err = cm(10).TipSpeed(rpm(360))
	is("fan", a, err, 3.8, "m/s", 1e-2)
	a, err = cm(10).Acceleration(rpm(360))
	is("fan", a, err, 144, "m/s²", 2e-2)
	// UP1 10.1: bicycle wheel, 250 rpm. UP1 10.2: centrifuge, 7000 rpm.
	a, err = cm(33).AngularSpeed(rpm(250))
	is("bicycle wheel", a, err, 26.2, "rad/s", 1e-3)
	a, err = cm(33).AngularSpeed(rpm(7000))
	is("centrifuge", a, err, 733.0, "rad/s", 1e-4)
	// UP1 10.3: wind turbine, 20 m, 0.5 rev/s.
	a, err = cm(2000).Acceleration(Exact(0.5, "rev/s"))
	is("wind turbine", a, err, 197.4, "m/s²", printed)
	// UP1: 70.00 mph is 31.29 m/s.
	a, err = Exact(70, "mile/h").To("m/s")
	is("70 mph", a, err, 31.29, "m/s", 1e-4)
}

// A fan maker's acoustics tutorial: the tones of a seven-blade fan at 280, 560
// and 840 Hz are orders 7, 14 and 21 of 40 rev/s = 2400 rpm; the line at 960 Hz
// is order 24, which comes from the motor.
func TestSevenBladeFan(t *testing.T) {
	is := valueIs(t)
	fan := Rotor{Name: "fan", Pulses: 7}
	tone := Exact(280, "Hz")
	v, err := fan.Speed(tone)
	is("speed", v, err, 40, "rev/s", 1e-15)
	v, err = fan.RPM(tone)
	is("rpm", v, err, 2400, "rpm", 1e-15)
	for _, line := range []struct {
		f     float64
		order float64
		m     int
	}{{280, 7, 1}, {560, 14, 2}, {840, 21, 3}, {960, 24, 0}, {40, 1, 0}, {297, 7.425, 0}} {
		order, err := fan.Order(Exact(line.f, "Hz"), tone)
		is("order", order, err, line.order, "", 1e-14)
		m, ok, err := fan.BladeLine(Exact(line.f, "Hz"), tone)
		if m != line.m || ok != (line.m > 0) || err != nil {
			t.Errorf("BladeLine(%g Hz) = %d, %t, %v, want %d, %t", line.f, m, ok, err, line.m, line.m > 0)
		}
	}
}

// NASA/US Army, NTRS 20040110387: a four-blade model rotor with a blade-pass
// frequency of 96.17 Hz has its 7th to 30th harmonics at 673 to 2885 Hz.
func TestHelicopterLadder(t *testing.T) {
	rotor := Rotor{Pulses: 4}
	tone := Exact(96.17, "Hz")
	for _, rung := range []struct {
		m int
		f float64
	}{{7, 673}, {30, 2885}} {
		// Half a hertz, the printed digit; 0.1 in order is a tenth of 24.04 Hz.
		if f := float64(rung.m) * tone.X; math.Abs(f-rung.f) > 0.5 {
			t.Errorf("harmonic %d lies at %g Hz, want %g within 0.5", rung.m, f, rung.f)
		}
		m, ok, err := rotor.BladeLine(Exact(rung.f, "Hz"), tone)
		if m != rung.m || !ok || err != nil {
			t.Errorf("BladeLine(%g Hz) = %d, %t, %v, want %d", rung.f, m, ok, err, rung.m)
		}
	}
}

// Siren and toothed wheel: tones per second are holes times revolutions per
// minute over 60 (J. Broadhouse, Musical Acoustics, p. 31). From memory: one of
// Savart's wheels had 720 teeth, which takes 33.33 rev/s for his 24 kHz, and
// Tyndall's siren with 16 holes at 1440 turns a minute sounds 384 Hz. The rows
// of the siren disc of the Harvard lecture demonstrations, 24 27 30 32 36 40 45
// 48 holes, are a just scale: 1 9/8 5/4 4/3 3/2 5/3 15/8 2.
func TestSirenArithmetic(t *testing.T) {
	is := valueIs(t)
	v, err := Rotor{Pulses: 16}.Tone(Exact(1440, "rpm"))
	is("Tyndall's siren", v, err, 384, "Hz", 1e-15)
	v, err = Rotor{Pulses: 720}.Speed(Exact(24000, "Hz"))
	is("Savart's wheel", v, err, 33.33, "rev/s", 1.5e-4)
	scale := []float64{1, 9. / 8, 5. / 4, 4. / 3, 3. / 2, 5. / 3, 15. / 8, 2}
	for i, holes := range []int{24, 27, 30, 32, 36, 40, 45, 48} {
		speed := Exact(11, "rev/s")
		low, err := Rotor{Pulses: 24}.Tone(speed)
		if err != nil {
			t.Fatal(err)
		}
		v, err := Rotor{Pulses: holes}.Tone(speed)
		is("siren row", v, err, scale[i]*low.X, "Hz", 1e-12)
	}
}

func TestRotorUncertainty(t *testing.T) {
	r := Rotor{Pulses: 5, Radius: Measured(0.06, 0.0005, "m", "radius")}
	tone := Value{X: 300, Unit: "Hz", Parts: []Part{{Name: "tone", U: 0.3}, {Name: "clock", U: -0.009}}}
	v, err := r.TipSpeed(tone)
	if err != nil {
		t.Fatal(err)
	}
	// v = 2π r f/z: the relative contributions are those of its factors.
	x := 2 * math.Pi * 0.06 * 60
	for name, u := range map[string]float64{"tone": x * 0.3 / 300, "clock": -x * 0.009 / 300, "radius": x * 0.0005 / 0.06} {
		near(t, "contribution of "+name, part(v, name), u, 1e-12)
	}
	// The load goes with the square of the speed and once with the radius.
	g, err := r.GLoad(tone)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "tone in the load", part(g, "tone"), g.X*2*0.3/300, 1e-12)
	near(t, "radius in the load", part(g, "radius"), g.X*0.0005/0.06, 1e-12)
	// A clock error that line and tone share cancels in their ratio.
	line := Value{X: 900, Unit: "Hz", Parts: []Part{{Name: "clock", U: -0.027}}}
	order, err := r.Order(line, tone)
	if err != nil {
		t.Fatal(err)
	}
	if c := part(order, "clock"); math.Abs(c) > 1e-15 {
		t.Errorf("the clock contributes %g to an order, want 0: both frequencies share it", c)
	}
}

func part(v Value, name string) float64 {
	var u float64
	for _, p := range v.Parts {
		if p.Name == name {
			u += p.U
		}
	}
	return u
}

func TestRotorRefuses(t *testing.T) {
	whole := Rotor{Pulses: 3, Radius: Exact(0.04, "m")}
	tone := Exact(100, "Hz")
	cases := []struct {
		name string
		err  error
		kind error
	}{
		{"no pulses", second(Rotor{}.Speed(tone)), ErrPulses},
		{"negative pulses", second(Rotor{Pulses: -1}.RPM(tone)), ErrPulses},
		{"no pulses, tone", second(Rotor{}.Tone(Exact(1, "rev/s"))), ErrPulses},
		{"no radius", second(Rotor{Pulses: 3}.TipSpeed(tone)), ErrRadius},
		{"no radius, load", second(Rotor{Pulses: 3}.GLoad(tone)), ErrRadius},
		{"radius 0", second(Rotor{Pulses: 3, Radius: Exact(0, "m")}.TipSpeed(tone)), ErrRadius},
		{"negative radius", second(Rotor{Pulses: 3, Radius: Exact(-1, "m")}.TipSpeed(tone)), ErrRadius},
		{"NaN radius", second(Rotor{Pulses: 3, Radius: Exact(math.NaN(), "m")}.TipSpeed(tone)), ErrRadius},
		{"radius in seconds", second(Rotor{Pulses: 3, Radius: Exact(1, "s")}.TipSpeed(tone)), ErrUnit},
		{"tone in metres", second(whole.Speed(Exact(1, "m"))), ErrUnit},
		{"tone without unit", second(whole.Speed(Exact(1, ""))), ErrUnit},
		{"negative tone", second(whole.Speed(Exact(-1, "Hz"))), ErrOption},
		{"NaN tone", second(whole.Speed(Exact(math.NaN(), "Hz"))), ErrOption},
		{"infinite tone", second(whole.Speed(Exact(math.Inf(1), "Hz"))), ErrOption},
		{"order of a rotor at rest", second(whole.Order(tone, Exact(0, "rev/s"))), ErrOption},
		{"order of a speed", second(whole.Order(Exact(1, "m/s"), tone)), ErrUnit},
		{"density in metres", second(whole.RingStress(tone, Exact(1, "m"))), ErrUnit},
		{"density 0", second(whole.RingStress(tone, Exact(0, "kg/m³"))), ErrOption},
		{"Poisson's ratio 0.7", second(whole.DiscStress(tone, Exact(1, "kg/m³"), Exact(0.7, ""))), ErrOption},
		{"Poisson's ratio in metres", second(whole.DiscStress(tone, Exact(1, "kg/m³"), Exact(0.3, "m"))), ErrUnit},
		{"air in kelvin", second(whole.TipMach(tone, Exact(293, "K"))), ErrUnit},
		{"air at 1000 °C", second(whole.TipMach(tone, Exact(1000, "°C"))), ErrOption},
	}
	for _, c := range cases {
		if !errors.Is(c.err, c.kind) {
			t.Errorf("%s: error %v, want one of kind %v", c.name, c.err, c.kind)
		}
	}
	// At rest a rotor is a rotor: no error, and no speed.
	v, err := whole.TipSpeed(Exact(0, "Hz"))
	if v.X != 0 || err != nil {
		t.Errorf("tip speed at rest = %v, %v, want 0", v, err)
	}
}

func second(_ Value, err error) error { return err }
