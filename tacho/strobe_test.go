package tacho

import (
	"errors"
	"math"
	"testing"
)

func TestStrobe(t *testing.T) {
	is := valueIs(t)
	five := Rotor{Pulses: 5}
	film := Exact(25, "Hz") // pictures per second: the wheel looks alike at every 5 rev/s
	for _, c := range []struct{ fr, want float64 }{
		{0.2, 0.2}, {5.2, 0.2}, {4.8, -0.2}, {10.2, 0.2}, {12, 2}, {13, -2},
	} {
		v, err := five.Strobe(Exact(c.fr, "rev/s"), film)
		is("apparent speed", v, err, c.want, "rev/s", 1e-12)
	}
	if v, err := five.Strobe(Exact(25, "Hz"), film); err != nil || v.X != 0 { // a tone: 5 rev/s
		t.Errorf("five vanes heard at the picture rate seem to turn at %v, %v; want to stand still", v, err)
	}
	// the film's uncertainty counts as often as whole steps were taken off
	v, err := five.Strobe(Exact(10.2, "rev/s"), Measured(25, 0.05, "Hz", "film"))
	if err != nil || math.Abs(v.U()-2*0.01) > 1e-12 {
		t.Errorf("uncertainty %v, %v; want 0.02 rev/s", v.U(), err)
	}
}

// The marks on the rim of record players (common practice, from memory): under
// lamps on a 50 Hz supply, which flash 100 times a second, 180 marks stand still
// at 33 1/3 rpm and 77 at 77.92 rpm; at 60 Hz, 216 at 33 1/3 and 92 at 78.26 rpm.
func TestStrobeMarksOfRecordPlayers(t *testing.T) {
	for _, c := range []struct {
		marks     int
		flashes   float64
		rpm, last float64
	}{
		{180, 100, 100.0 / 3, 1e-12}, {216, 120, 100.0 / 3, 1e-12}, {77, 100, 77.92, 0.005}, {92, 120, 78.26, 0.005},
	} {
		v, err := Rotor{Pulses: c.marks}.Strobe(Exact(c.rpm, "rpm"), Exact(c.flashes, "Hz"))
		if err != nil || math.Abs(60*v.X) > c.last {
			t.Errorf("%d marks at %g rpm under %g flashes per second seem to turn at %v, %v; want to stand still", c.marks, c.rpm, c.flashes, v, err)
		}
	}
}

func TestStrobeRefuses(t *testing.T) {
	fr := Exact(5, "rev/s")
	if _, err := (Rotor{}).Strobe(fr, Exact(25, "Hz")); !errors.Is(err, ErrPulses) {
		t.Errorf("without pulses: %v, want ErrPulses", err)
	}
	for _, c := range []struct {
		x, flashes Value
		want       error
	}{
		{Exact(5, "m"), Exact(25, "Hz"), ErrUnit}, {fr, Exact(25, "s"), ErrUnit},
		{fr, Exact(0, "Hz"), ErrOption}, {fr, Exact(math.NaN(), "Hz"), ErrOption}, {fr, Exact(math.Inf(1), "Hz"), ErrOption},
		{Exact(-1, "rev/s"), Exact(25, "Hz"), ErrOption},
	} {
		if _, err := (Rotor{Pulses: 5}).Strobe(c.x, c.flashes); !errors.Is(err, c.want) {
			t.Errorf("Strobe(%v, %v): %v, want %v", c.x, c.flashes, err, c.want)
		}
	}
}
