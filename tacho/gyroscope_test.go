package tacho

import (
	"errors"
	"math"
	"testing"
)

// OpenStax University Physics 1, section 11.4: a gyroscope of 0.3 kg, a disc of 5
// cm radius on a 5 cm arm, spins at 20 rev/s: I = 3.75e-4 kg m², precession 3.12
// rad/s, period 2.0 s. A problem there: 0.5 kg, 40 rev/s, 10 cm radius, 15 cm
// arm: 1.17 rad/s. (The book takes g = 9.80 m/s².)
func TestPrecessionAgainstTextbook(t *testing.T) {
	for _, c := range []struct{ mass, radius, arm, spin, inertia, rate float64 }{
		{0.3, 0.05, 0.05, 20, 3.75e-4, 3.12},
		{0.5, 0.10, 0.15, 40, 2.5e-3, 1.17},
	} {
		top := Top{Mass: Exact(c.mass, "kg"), Arm: Exact(c.arm, "m"), Inertia: must1(DiscInertia(Exact(c.mass, "kg"), Exact(c.radius, "m")))}
		closeTo(t, "inertia", top.Inertia.X, c.inertia, 1e-12)
		closeTo(t, "precession", must1(top.Precession(Exact(c.spin, "rev/s"))).X*2*math.Pi, c.rate, 0.002)
	}
}

// The steady precession must satisfy the equation of motion of the heavy top.
func TestSteadyPrecession(t *testing.T) {
	disc := must1(DiscInertia(Exact(0.08, "kg"), Exact(0.025, "m")))
	across := must1(ShiftedInertia(disc.Scale(0.5, disc.Unit), Exact(0.08, "kg"), Exact(0.01, "m")))
	top := Top{Mass: Exact(80, "g"), Arm: Exact(1, "cm"), Inertia: disc, Transverse: across, Tilt: Exact(20, "°")}
	least := must1(top.HoldSpin())
	for _, fr := range []float64{1.001 * least.X, 10, 29, 300} {
		w := 2 * math.Pi * must1(top.SteadyPrecession(Exact(fr, "rev/s"))).X
		left := across.X * math.Cos(20*math.Pi/180) * w * w
		middle := disc.X * 2 * math.Pi * fr * w
		right := 0.08 * 9.80665 * 0.01
		if math.Abs(left-middle+right) > 1e-9*middle {
			t.Errorf("at %g rev/s the equation of motion is off by %g", fr, left-middle+right)
		}
	}
	excess := must1(top.FastTopExcess(Exact(29, "rev/s"))).X
	x := math.Pow(least.X/29, 2)
	closeTo(t, "excess", excess, x/4+x*x/8, 0.01)
	if _, err := top.SteadyPrecession(Exact(0.9*least.X, "rev/s")); !errors.Is(err, ErrOption) {
		t.Errorf("below the spin that holds: %v", err)
	}
	// Only g l/r² is left of a disc: its mass cancels.
	mass := Measured(80, 0.5, "g", "balance")
	product := must1(Top{Mass: mass, Arm: Measured(1, 0.02, "cm", "height"), Inertia: must1(DiscInertia(mass, Exact(2.5, "cm")))}.Product())
	if len(product.Parts) != 1 || product.Parts[0].Name != "height" {
		t.Errorf("the product depends on %v", product.Budget())
	}
	closeTo(t, "product", product.X, 2*9.80665*0.01/(0.025*0.025)/(4*math.Pi*math.Pi), 1e-12)
	top.Tilt = Exact(95, "°")
	if _, err := top.HoldSpin(); !errors.Is(err, ErrOption) {
		t.Errorf("lying down: %v", err)
	}
	if _, err := (Top{Mass: Exact(1, "m")}).Product(); !errors.Is(err, ErrUnit) {
		t.Errorf("a mass in metres: %v", err)
	}
}

// Moments of inertia by adding up thin rings.
func TestInertiaBySumming(t *testing.T) {
	m, r := Exact(2, "kg"), Exact(30, "cm")
	const n, radius = 200_000, 0.3
	var disc, ball, cone, discMass, ballMass, coneMass float64
	for i := range n {
		s := (float64(i) + 0.5) / n * radius
		w := s // mass of a thin ring or shell at distance s
		disc, discMass = disc+w*s*s, discMass+w
		h := math.Sqrt(radius*radius - s*s)
		ball, ballMass = ball+w*h*s*s, ballMass+w*h
		h = radius - s
		cone, coneMass = cone+w*h*s*s, coneMass+w*h
	}
	closeTo(t, "disc", must1(DiscInertia(m, r)).X, 2*disc/discMass, 1e-6)
	closeTo(t, "ball", must1(BallInertia(m, r)).X, 2*ball/ballMass, 1e-5)
	closeTo(t, "cone", must1(ConeInertia(m, r)).X, 2*cone/coneMass, 1e-6)
	closeTo(t, "ring", must1(RingInertia(m, r)).X, 2*0.09, 1e-12)
	middle := must1(RodInertia(m, r))
	closeTo(t, "rod", must1(ShiftedInertia(middle, m, Exact(15, "cm"))).X, must1(RodEndInertia(m, r)).X, 1e-12)
}
