package tacho

import (
	"strings"
	"testing"
)

func hazards(m *Measurement) string {
	var s []string
	for _, c := range m.Cautions() {
		s = append(s, c.Hazard)
	}
	return strings.Join(s, ", ")
}

func TestCautionsBear(t *testing.T) {
	at := func(verdict Verdict, hz float64, radius Value, dbfs float64) *Measurement {
		track := pushedTrack()
		track.Verdict = verdict
		track.Steady = &Family{Tone: tonePart(hz, 0.01)}
		track.peak.Tone = tonePart(hz, 0.01)
		m, err := NewMeasurement(tenSeconds(t, "x.wav"), Rotor{Pulses: 3, Radius: radius}, track)
		if err != nil {
			t.Fatal(err)
		}
		m.Recording.PeakDBFS = dbfs
		return m
	}
	cm := func(x float64) Value { return Exact(x/100, "m") }
	const fast, driven = "bursting rotor, eyes, noise", "bursting rotor, eyes, air jet, gas duster, noise"
	for _, c := range []struct {
		name string
		m    *Measurement
		want string
	}{
		{"15.7 m/s, pushed", at(VerdictVarying, 187.5, cm(4), -20), driven},
		{"15.7 m/s, steady", at(VerdictSteady, 187.5, cm(4), -20), fast},
		{"1.6 m/s", at(VerdictVarying, 18.75, cm(4), -20), ""},
		{"1.6 m/s, near full scale", at(VerdictVarying, 18.75, cm(4), -1), "noise"},
		{"50 rev/s, radius not known", at(VerdictSteady, 150, Value{}, -20), fast},
		{"5 rev/s, radius not known", at(VerdictVarying, 15, Value{}, -20), ""},
	} {
		if got := hazards(c.m); got != c.want {
			t.Errorf("%s: cautions %q, want %q", c.name, got, c.want)
		}
	}
	if s := at(VerdictVarying, 187.5, cm(4), -20).String(); !strings.Contains(strings.Join(strings.Fields(s), " "), CautionNote) {
		t.Errorf("the report with cautions does not defer to local codes:\n%s", s)
	}
}

// Every caution says what to do and where it comes from; the numbers are those
// of the sources: 30 psi is 206.84 kPa (29 CFR 1910.242(b)), and 85 dBA for 8 h
// with 3 dB for half the time is 94 dBA for 1 h and 100 dBA for 15 min (NIOSH).
func TestCautionsHaveSources(t *testing.T) {
	if len(Cautions()) != 5 {
		t.Errorf("%d cautions, want 5", len(Cautions()))
	}
	for _, c := range Cautions() {
		if c.Hazard == "" || len(c.Text) < 80 || len(c.Source) < 20 {
			t.Errorf("caution %+v is not complete", c)
		}
	}
	v, err := Exact(30, "psi").To("kPa")
	valueIs(t)("30 psi", v, err, 206.84, "kPa", 1e-4)
	for _, c := range []struct{ dBA, minutes float64 }{{85, 480}, {94, 60}, {100, 15}} {
		if got := 480 / pow2((c.dBA-85)/3); got != c.minutes {
			t.Errorf("%g dBA for %g minutes, want %g", c.dBA, got, c.minutes)
		}
	}
	Cautions()[0].Text = "changed"
	if Cautions()[0].Text == "changed" {
		t.Error("a caller can change the cautions of everybody")
	}
}

func pow2(x float64) float64 {
	y := 1.0
	for ; x > 0; x-- {
		y *= 2
	}
	return y
}
