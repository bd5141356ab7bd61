package tacho

import "testing"

func TestSpeedOfSound(t *testing.T) {
	is := valueIs(t)
	for _, c := range []struct {
		source    string
		air, want float64
		tolerance float64
	}{
		{"ISO 9613-1:1993, 0 °C", 0, 331.3, 0.5e-3},
		{"ISO 9613-1:1993, reference 20 °C", 20, 343.2, 1e-12},
		// The textbook's own formula starts from 331 m/s at 273 K.
		{"OpenStax University Physics 1, 17.2, 20 °C", 20, 343, 1e-3},
		{"OpenStax University Physics 1, 17.2, 30 °C", 30, 348.7, 1e-3},
		{"OpenStax University Physics 1, 17.2, 35 °C", 35, 351.58, 1e-3},
		// Dry air with 400 ppm of carbon dioxide.
		{"Cramer 1993, 0 °C", 0, 331.45, 1e-3},
		{"Cramer 1993, 20 °C", 20, 343.36, 1e-3},
	} {
		v, err := SpeedOfSound(Exact(c.air, "°C"))
		is(c.source, v, err, c.want, "m/s", c.tolerance)
	}
	// Humidity is left out: dry, half damp and saturated air of 20 °C by Cramer's
	// formula, and the claim of a few tenths of a per cent.
	for _, damp := range []float64{343.359, 343.987, 344.614} {
		v, err := SpeedOfSound(Exact(20, "°C"))
		is("Cramer 1993, 20 °C, damp", v, err, damp, "m/s", 0.0045)
	}
	// UP1 17.2: an echo from a wall at 3.00 m comes after 0.0180 s at 5 °C and
	// after 0.0171 s at 35 °C.
	for air, want := range map[float64]float64{5: 0.0180, 35: 0.0171} {
		c, err := SpeedOfSound(Exact(air, "°C"))
		is("echo", Exact(6, "m").Div(c), err, want, "s", 5e-3)
	}
	// c goes with the root of the temperature: half its relative uncertainty.
	v, err := SpeedOfSound(Measured(20, 2, "°C", "air"))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "contribution of the air", part(v, "air"), v.X*0.5*2/293.15, 1e-6)
}

func TestTipMach(t *testing.T) {
	// CP 6.2: the rim of 0.100 m at 50 000 rev/min moves at 0.524 km/s, which is
	// 1.53 times the 343 m/s of the same book.
	r := Rotor{Pulses: 1, Radius: Exact(0.1, "m")}
	v, err := r.TipMach(Exact(50000, "rpm"), Exact(20, "°C"))
	valueIs(t)("tip Mach number", v, err, 524./343, "", 2e-3)
}
