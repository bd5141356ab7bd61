package tacho

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"rotorhum/tacho/synth"
)

// The solution of the equation of motion is compared with the closed forms of
// the three simple laws and with the integration of package synth.
func TestFrictionClosedForms(t *testing.T) {
	dry := Friction{Coulomb: Exact(0.5, "rev/s²")}
	grease := Friction{Viscous: Exact(0.25, "1/s")}
	air := Friction{Quadratic: Exact(0.02, "1/rev")}
	start := Exact(10, "rev/s")
	for _, c := range []struct {
		l    Friction
		t    float64
		want float64
	}{
		{dry, 4, 10 - 0.5*4}, {dry, 20, 0}, {dry, 25, 0},
		{grease, 4, 10 * math.Exp(-1)},
		{air, 4, 10 / (1 + 0.02*10*4)},
	} {
		closeTo(t, c.l.Name(), must1(c.l.SpeedAfter(start, c.t)).X, c.want, 1e-12)
	}
	closeTo(t, "Coulomb run-down", must1(dry.RunDown(start, Exact(4, "rev/s"))).X, 12, 1e-12)
	closeTo(t, "viscous run-down", must1(grease.RunDown(start, Exact(5, "rev/s"))).X, math.Log(2)/0.25, 1e-12)
	closeTo(t, "quadratic run-down", must1(air.RunDown(start, Exact(5, "rev/s"))).X, (1./5-1./10)/0.02, 1e-12)
	closeTo(t, "longest", must1(air.Longest(Exact(5, "rev/s"))).X, 1/(0.02*5), 1e-12)
	for _, l := range []Friction{
		{Coulomb: Exact(0.35, ""), Viscous: Exact(0.035, ""), Quadratic: Exact(0.0011, "")}, // ω² < 0
		{Coulomb: Exact(0.1, ""), Viscous: Exact(0.3, ""), Quadratic: Exact(0.01, "")},      // ω² > 0
		{Coulomb: Exact(0.09, ""), Viscous: Exact(0.06, ""), Quadratic: Exact(0.01, "")},    // ω² = 0
	} {
		v := l.values()
		curve, err := synth.CoastDown(10, synth.Friction{Coulomb: v[0].X, Viscous: v[1].X, Quadratic: v[2].X}).Curve(30, 1)
		if err != nil {
			t.Fatal(err)
		}
		for s := 0.0; s < 12; s += 0.7 {
			got := must1(l.SpeedAfter(start, s))
			if math.Abs(got.X-curve(s)) > 2e-9 {
				t.Errorf("%v after %.1f s: %.10f, the integration gives %.10f", l, s, got.X, curve(s))
			}
			if got.X > 0 {
				closeTo(t, "run-down", must1(l.RunDown(start, got)).X, s, 1e-9)
				closeTo(t, "start", must1(l.StartFor(got, s)).X, 10, 1e-9)
			}
		}
	}
}

// OpenStax University Physics 1, chapter 10: a centrifuge at 7000 rpm comes to
// rest in 10 s at -73.3 rad/s²; a propeller at 10 rev/s at -2.0 rad/s² in 31.4 s.
func TestFrictionAgainstTextbook(t *testing.T) {
	perRev := 1 / (2 * math.Pi)
	centrifuge := Friction{Coulomb: Exact(73.3*perRev, "rev/s²")}
	rest := must1(centrifuge.RunDown(Exact(7000, "rpm"), Exact(0, "rev/s")))
	closeTo(t, "centrifuge", rest.X, 10, 0.0005)
	propeller := Friction{Coulomb: Exact(2*perRev, "rev/s²")}
	closeTo(t, "propeller", must1(propeller.RunDown(Exact(10, "rev/s"), Exact(0, "rev/s"))).X, 31.4, 0.002)
	// chapter 10.1: a bicycle wheel at 250 rpm stops at -87.3 rad/s² in 0.300 s, and
	// reaches 250 rpm from rest in 5.00 s at 5.24 rad/s²
	wheel250 := Exact(250, "rpm")
	brake := Friction{Coulomb: Exact(87.3*perRev, "rev/s²")}
	closeTo(t, "bicycle wheel", must1(brake.RunDown(wheel250, Exact(0, "rev/s"))).X, 0.300, 0.002)
	closeTo(t, "its start", must1(wheel250.To("rad/s")).X/5, 5.24, 0.001)
	// chapter 10.3: a centrifuge of 20 cm at 10 000 rpm comes to rest in 30 s at
	// -34.9 rad/s². The book's 35.1 rad/s and 245 m/s² at 29 s come from that rounded
	// figure; unrounded they are 34.91 and 243.7.
	for coulomb, want := range map[float64]struct{ speed, load, rel float64 }{34.9: {35.1, 245, 0.0055}, 1000.0 / 3 * math.Pi / 30: {34.9066, 243.69, 1e-5}} {
		law := Friction{Coulomb: Exact(coulomb*perRev, "rev/s²")}
		late := must1(law.SpeedAfter(Exact(10000, "rpm"), 29))
		closeTo(t, "at 29 s", must1(late.To("rad/s")).X, want.speed, want.rel)
		closeTo(t, "load at 29 s", must1(Rotor{Pulses: 1, Radius: Exact(20, "cm")}.Acceleration(late)).X, want.load, 2.5*want.rel)
	}
	// chapter 10.4: helicopter blades of 1067 kg·m² hold 5.26e5 J at 300 rpm
	blades := must1(RodEndInertia(Exact(50, "kg"), Exact(4, "m"))).Scale(4, "kg·m²")
	closeTo(t, "blades", blades.X, 1067, 0.0005)
	closeTo(t, "energy", must1(RotationalEnergy(blades, Exact(300, "rpm"))).X, 5.26e5, 0.001)
	// what friction takes is what the energy loses
	law := Friction{Coulomb: Exact(0.12, ""), Viscous: Exact(0.045, ""), Quadratic: Exact(0.012, "")}
	wheel := Exact(0.1, "kg·m²")
	const h = 1e-4
	a, b := must1(law.SpeedAfter(Exact(3, "rev/s"), 1-h)), must1(law.SpeedAfter(Exact(3, "rev/s"), 1+h))
	lost := (must1(RotationalEnergy(wheel, a)).X - must1(RotationalEnergy(wheel, b)).X) / (2 * h)
	closeTo(t, "power", must1(law.Power(wheel, must1(law.SpeedAfter(Exact(3, "rev/s"), 1)))).X, lost, 1e-6)
}

func must1(v Value, err error) Value {
	if err != nil {
		panic(err)
	}
	return v
}

func closeTo(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)+1e-15) {
		t.Errorf("%s: %.12g, want %.12g", what, got, want)
	}
}

func TestFrictionForEver(t *testing.T) {
	grease := Friction{Viscous: Exact(0.25, "1/s")}
	if _, err := grease.RunDown(Exact(10, "rev/s"), Exact(0, "rev/s")); !errors.Is(err, ErrOption) {
		t.Errorf("viscous to rest: %v", err)
	}
	if _, err := grease.RunDown(Exact(1, "rev/s"), Exact(2, "rev/s")); !errors.Is(err, ErrOption) {
		t.Errorf("upwards: %v", err)
	}
	air := Friction{Quadratic: Exact(0.02, "1/rev")}
	if _, err := air.StartFor(Exact(5, "rev/s"), 11); err == nil || !strings.Contains(err.Error(), "within 10 s") {
		t.Errorf("beyond the longest: %v", err)
	}
	if _, err := air.Decel(Exact(5, "m")); !errors.Is(err, ErrUnit) {
		t.Errorf("metres: %v", err)
	}
}

// madeTrack is a track of a coast-down whose errors are correlated over tau
// seconds, with intervals that claim claimed times their size.
func madeTrack(l [3]float64, f0, seconds, sd, tau, claimed float64, seed uint64) *Track {
	src := rand.New(rand.NewPCG(7, seed))
	tr := &Track{Verdict: VerdictVarying, Step: 0.02, Seconds: seconds}
	rho := math.Exp(-tr.Step / tau)
	e := src.NormFloat64()
	for t := 0.0; t <= seconds; t += tr.Step {
		f := real(coast(complex(l[0], 0), complex(l[1], 0), complex(l[2], 0), complex(f0, 0), t))
		if f <= 0 {
			break
		}
		half := Hertz(1.96 * sd * claimed)
		y := Hertz(f + sd*e)
		tr.Points = append(tr.Points, TrackPoint{T: t, Tone: y, Lo95: y - half, Hi95: y + half})
		e = rho*e + math.Sqrt(1-rho*rho)*src.NormFloat64()
	}
	return tr
}

// Over many made coast-downs the intervals must hold the truth about as often as
// they say, although neighbouring errors are alike and the track claims half of
// its true uncertainty.
func TestFitCoastDownCoverage(t *testing.T) {
	truth := [3]float64{0.12, 0.045, 0}
	const trials = 100
	inside, right := [2]int{}, 0
	for seed := range uint64(trials) {
		tr := madeTrack(truth, 3.8, 10, 0.004, 0.15, 0.5, seed)
		c, err := FitCoastDown(tr, Rotor{Pulses: 1}, 0, 0)
		if err != nil {
			t.Fatal(err)
		}
		f, err := c.Law("Coulomb + viscous")
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, r := range c.Residuals(f) {
			sum += r * r
		}
		closeTo(t, "residuals", math.Sqrt(sum/float64(len(c.T))), f.RMS, 1e-9)
		for i, v := range []Value{f.Coulomb, f.Viscous} {
			if lo, hi := v.CI95(); lo <= truth[i] && truth[i] <= hi {
				inside[i]++
			}
		}
		if c.Best().Name() == "Coulomb + viscous" {
			right++
		}
	}
	for i, n := range inside {
		if share := float64(n) / trials; share < 0.87 || share > 0.998 {
			t.Errorf("constant %d: %.3f of the 95 %% intervals hold the truth", i, share)
		}
	}
	t.Logf("inside %v of %d, right law %d", inside, trials, right)
}
