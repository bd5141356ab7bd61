package tacho

import (
	"errors"
	"math"
	"testing"
)

// Equal temperament on A4 = 440 Hz (ISO 16:1975), as many tables print it, to half
// a unit of the last digit; a piano's A0 to C8 are MIDI numbers 21 to 108.
func TestEqualTemperament(t *testing.T) {
	for name, want := range map[string]float64{
		"C3": 130.8128, "C4": 261.6256, "E4": 329.6276, "G4": 391.9954, "C5": 523.2511, "C6": 1046.502, "A4": 440, "A0": 27.5, "A8": 7040,
	} {
		f, err := NoteTone(name)
		tol := 0.51 * math.Pow(10, math.Floor(math.Log10(want))-6)
		if err != nil || math.Abs(float64(f)-want) > tol {
			t.Errorf("%s = %v Hz, %v; the tables print %g", name, float64(f), err, want)
		}
		if got, cents := Hertz(want).Note(); got != name || math.Abs(cents) > 0.001 {
			t.Errorf("%g Hz is %s and %g cents, want %s", want, got, cents, name)
		}
	}
	names := map[string]bool{}
	for midi := 21; midi <= 108; midi++ {
		f := Hertz(440 * math.Pow(2, float64(midi-69)/12))
		name, cents := f.Note()
		back, err := NoteTone(name)
		if err != nil || math.Abs(float64(back/f)-1) > 1e-14 || math.Abs(cents) > 1e-9 || names[name] {
			t.Errorf("note %d, %v, is %s and %g cents, which is %v (%v)", midi, f, name, cents, back, err)
		}
		names[name] = true
	}
	// The just scale of a siren's rows (24 27 30 32 36 40 45 48 holes) beside the
	// tempered one: from memory, the fifth is 1.955 cents wide, the third 13.686
	// narrow.
	fifth, third := Hertz(36).Cents(24), Hertz(30).Cents(24)
	if math.Abs(fifth-701.955) > 0.0005 || math.Abs(third-386.314) > 0.0005 {
		t.Errorf("a fifth of %g cents, a third of %g", fifth, third)
	}
}

func TestNotes(t *testing.T) {
	for _, c := range []struct {
		f     Hertz
		name  string
		cents float64
	}{{442, "A4", 7.85}, {295.2, "D4", 9.06}, {8.175799, "C-1", 0}, {452.9, "A#4", -49.99}, {1e-3, "A#-14", -49.5}, {1e5, "G12", -6.0}} {
		name, cents := c.f.Note()
		back := math.Exp2(cents / 1200)
		if c.f < 1 || c.f > 1e4 {
			continue
		}
		near, err := NoteTone(name)
		if name != c.name || math.Abs(cents-c.cents) > 0.05 || err != nil || math.Abs(float64(near)*back/float64(c.f)-1) > 1e-12 {
			t.Errorf("%v is %s and %.2f cents, want %s and %.2f (%v)", c.f, name, cents, c.name, c.cents, err)
		}
	}
	for _, same := range [][2]string{{"Bb3", "A#3"}, {"b♭3", "A♯3"}, {"Cb4", "B3"}, {"B#3", "C4"}, {"F##2", "G2"}, {" e4 ", "E4"}} {
		a, err := NoteTone(same[0])
		b, err2 := NoteTone(same[1])
		if err != nil || err2 != nil || math.Abs(float64(a/b)-1) > 1e-14 {
			t.Errorf("%q is %v, %q is %v: %v, %v", same[0], a, same[1], b, err, err2)
		}
	}
	for _, bad := range []string{"", "A", "4", "H4", "A#", "A4.5", "Ax4", "A11", "A-2", "A###4", "♯4", "A4 5"} {
		if f, err := NoteTone(bad); !errors.Is(err, ErrSyntax) {
			t.Errorf("%q is %v, %v; want ErrSyntax", bad, f, err)
		}
	}
	for _, f := range []Hertz{0, -1, Hertz(math.NaN()), Hertz(math.Inf(1))} {
		if name, cents := f.Note(); name != "" || !math.IsNaN(cents) {
			t.Errorf("%v is %q and %g cents", float64(f), name, cents)
		}
	}
}
