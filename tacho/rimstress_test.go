package tacho

import (
	"math"
	"testing"
)

// From memory, R. C. Hibbeler's flywheel problem: a rim 3 mm by 20 mm of 30
// kg/m that may bear 15 MPa at a radius of 0.8 m may turn at 6.85 rad/s.
func TestRingStressOfAFlywheel(t *testing.T) {
	density := Exact(30/(0.003*0.02), "kg/m³")
	r := Rotor{Pulses: 1, Radius: Exact(0.8, "m")}
	v, err := r.RingStress(Exact(6.85, "rad/s"), density)
	valueIs(t)("stress", v, err, 15e6, "Pa", 2e-3) // twice the rounding of 6.85
}

// From memory, the rule for cast iron in Machinery's Handbook: the stress in
// psi is a tenth of the square of the rim speed in ft/s, 1000 psi at 100 ft/s;
// with 0.26 lb/in³ the formula gives 970 psi, so the rule is good to 4 %.
func TestCastIronRule(t *testing.T) {
	const pound = 0.45359237 // kg, exact
	density := Exact(0.26*pound/math.Pow(0.0254, 3), "kg/m³")
	v, err := Exact(100, "ft/s").To("m/s")
	if err != nil {
		t.Fatal(err)
	}
	r := Rotor{Pulses: 1, Radius: Exact(0.5, "m")}
	s, err := r.RingStress(Exact(v.X/0.5, "rad/s"), density)
	if err != nil {
		t.Fatal(err)
	}
	psi, err := s.To("psi")
	valueIs(t)("stress", psi, err, 1000, "psi", 4e-2)
}

// The stress goes with the square of the tip speed, and that of a solid disc is
// (3 + ν)/8 of that of a ring (J. Carvill, Mechanical Engineer's Data Handbook,
// 1.2.7).
func TestDiscStress(t *testing.T) {
	r := Rotor{Pulses: 1, Radius: Measured(0.1, 0.001, "m", "radius")}
	steel, nu := Exact(7850, "kg/m³"), Exact(0.3, "")
	ring, err := r.RingStress(Exact(100, "rev/s"), steel)
	valueIs(t)("ring", ring, err, 7850*math.Pow(2*math.Pi*10, 2), "Pa", 1e-14)
	near(t, "relative uncertainty", ring.U()/ring.X, 2*0.01, 1e-12)
	disc, err := r.DiscStress(Exact(100, "rev/s"), steel, nu)
	valueIs(t)("disc", disc, err, ring.X*3.3/8, "Pa", 1e-14)
	near(t, "relative uncertainty", disc.U()/disc.X, 2*0.01, 1e-6) // numeric derivative
	twice, err := r.DiscStress(Exact(200, "rev/s"), Exact(7.85, "g/cm³"), nu)
	valueIs(t)("at twice the speed", twice, err, 4*disc.X, "Pa", 1e-12)
}
