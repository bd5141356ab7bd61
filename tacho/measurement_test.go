package tacho

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"rotorhum/tacho/synth"
)

// tonePart is a pulse rate with the uncertainties of a usual measurement.
func tonePart(hz, u float64) Value {
	return Value{X: hz, Unit: "Hz", Parts: []Part{{Name: "tone", U: u}, {Name: "clock", U: 30e-6 * hz}}}
}

// pushedTrack is a hand-made track of a rotor with a gap: two stretches, the
// peak of 187.5 Hz in the second.
func pushedTrack() *Track {
	t := &Track{
		Verdict: VerdictVarying, Step: 0.02, Seconds: 10,
		Top: &Family{Tone: tonePart(187.5, 0.12), Lines: []Harmonic{{M: 1, Freq: 187.5, Amp: 0.1, SNR: 30}}},
		Alternatives: []Alternative{
			{Tone: 93.75, Factor: "1/2", Odds: 3300},
			{Tone: 375, Factor: "2", Odds: math.Inf(1)},
		},
		Warnings: []string{"the sound was clipped around the peak"},
		peak:     &PeakSpeed{T: 3.214, TLo95: 3.206, THi95: 3.222, Tone: tonePart(187.5, 0.12)},
	}
	for i, hz := range []Hertz{150, 151.5, 153} {
		t.Points = append(t.Points, TrackPoint{T: 1 + 0.02*float64(i), Tone: hz, Lo95: hz - 0.3, Hi95: hz + 0.6, SNR: 12})
	}
	t.Points = append(t.Points, TrackPoint{T: 3.22, Tone: 187.5, Lo95: 187.2, Hi95: 187.8, SNR: 20})
	return t
}

// threeLobes is the rotor of the hand-made track.
func threeLobes() Rotor {
	return Rotor{Name: "three-lobed rotor", Pulses: 3, Radius: Measured(0.04, 0.0004, "m", "radius")}
}

// tenSeconds is a recording of a tone, to go with a track of something else.
func tenSeconds(t *testing.T, name string) *Recording {
	t.Helper()
	rec, err := NewRecording(name, 8000, synth.ToneAt(1000, 0.6, 0, 8000, 80000))
	if err != nil {
		t.Fatal(err)
	}
	rec.PeakDBFS = -4.25
	rec.SHA256 = strings.Repeat("0f", 32)
	return rec
}

// measured returns the measurement of the hand-made track with fixed versions.
func measured(t *testing.T, name string) *Measurement {
	t.Helper()
	m, err := NewMeasurement(tenSeconds(t, name), threeLobes(), pushedTrack())
	if err != nil {
		t.Fatal(err)
	}
	m.MadeWith = MadeWith{"0.0.0", "go0.0"}
	return m
}

// Common practice, no source: 187.5 Hz of a three-lobed rotor of 4 cm are 62.5
// rev/s, 3750 rpm, 15.7 m/s.
func TestMeasurementOfAVaryingTrack(t *testing.T) {
	m := measured(t, "push.wav")
	if m.Verdict != VerdictVarying || m.Speed != nil || m.Peak == nil {
		t.Fatalf("verdict %q, speed %v, peak %v; want a varying measurement with a peak only", m.Verdict, m.Speed, m.Peak)
	}
	is := valueIs(t)
	is("peak", m.Peak.Speed, nil, 62.5, "rev/s", 1e-15)
	is("rpm", m.Derived.RPM, nil, 3750, "rpm", 1e-15)
	is("tip", *m.Derived.Tip, nil, 15.7, "m/s", 1e-2/3)
	is("load", *m.Derived.GLoad, nil, math.Pow(2*math.Pi*62.5, 2)*0.04/9.80665, "g", 1e-14)
	near(t, "uncertainty of the peak", m.Peak.Speed.U(), math.Hypot(0.12, 30e-6*187.5)/3, 1e-12)
	if len(m.Points) != 4 {
		t.Fatalf("%d points, want the 4 of the track", len(m.Points))
	}
	p := m.Points[2]
	near(t, "time of the third point", p.T, 1.04, 1e-15)
	near(t, "its speed", float64(p.Fr), 153/3., 1e-15)
	near(t, "its lower end", float64(p.Lo95), (153-0.3)/3, 1e-15)
	near(t, "its upper end", float64(p.Hi95), (153+0.6)/3, 1e-15)
	want := []AlternativeSpeed{{31.25, "1/2", 3300}, {125, "2", maxOdds}}
	for i, a := range m.Alternatives {
		if a != want[i] {
			t.Errorf("alternative %d = %+v, want %+v", i, a, want[i])
		}
	}
}

func TestMeasurementOfASteadyTrack(t *testing.T) {
	track := pushedTrack()
	track.Verdict = VerdictSteady
	track.Steady = &Family{Tone: tonePart(280, 0.01)}
	m, err := NewMeasurement(tenSeconds(t, "fan.wav"), Rotor{Name: "fan", Pulses: 7}, track)
	if err != nil {
		t.Fatal(err)
	}
	if m.Speed == nil || m.Peak != nil {
		t.Fatalf("speed %v, peak %v; want a speed only", m.Speed, m.Peak)
	}
	// The seven-blade fan of a fan maker's acoustics tutorial: 2400 rpm.
	valueIs(t)("rpm", m.Derived.RPM, nil, 2400, "rpm", 1e-15)
	if m.Derived.Tip != nil || m.Derived.GLoad != nil {
		t.Errorf("a rotor without radius has the tip speed %v and the load %v, want none", m.Derived.Tip, m.Derived.GLoad)
	}
}

func TestMeasurementWithoutReading(t *testing.T) {
	track := &Track{Verdict: VerdictNoReading, Reasons: []string{"it is silent"}, Step: 0.02, Seconds: 10}
	m, err := NewMeasurement(tenSeconds(t, "pier.wav"), threeLobes(), track)
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := m.Top(); ok || m.Derived != nil || len(m.Points) > 0 {
		t.Errorf("no reading, and yet a top speed %t, %v, %d points", ok, m.Derived, len(m.Points))
	}
	if len(m.Cautions()) != 0 {
		t.Errorf("no reading has cautions %v, want none: nothing is known to spin", m.Cautions())
	}
}

// A track that contradicts itself or holds a NaN must not become a measurement.
func TestMeasurementRefusesBadTracks(t *testing.T) {
	nan := math.NaN()
	for name, spoil := range map[string]func(*Track){
		"varying without peak":   func(tr *Track) { tr.peak = nil },
		"steady without family":  func(tr *Track) { tr.Verdict = VerdictSteady },
		"unknown verdict":        func(tr *Track) { tr.Verdict = "perhaps" },
		"NaN peak":               func(tr *Track) { tr.peak.Tone.X = nan },
		"NaN uncertainty":        func(tr *Track) { tr.peak.Tone.Parts[0].U = nan },
		"infinite uncertainty":   func(tr *Track) { tr.peak.Tone.Parts[0].U = math.Inf(1) },
		"NaN time":               func(tr *Track) { tr.peak.T = nan },
		"NaN end of the time":    func(tr *Track) { tr.peak.THi95 = nan },
		"NaN point":              func(tr *Track) { tr.Points[1].Tone = nan32 },
		"infinite interval":      func(tr *Track) { tr.Points[1].Hi95 = Hertz(math.Inf(1)) },
		"NaN odds":               func(tr *Track) { tr.Alternatives[0].Odds = nan },
		"NaN alternative":        func(tr *Track) { tr.Alternatives[0].Tone = nan32 },
		"negative peak":          func(tr *Track) { tr.peak.Tone.X = -1 },
		"peak of no unit":        func(tr *Track) { tr.peak.Tone.Unit = "" },
		"peak in metres a while": func(tr *Track) { tr.peak.Tone.Unit = "m/s" },
	} {
		track := pushedTrack()
		spoil(track)
		if m, err := NewMeasurement(tenSeconds(t, "bad.wav"), threeLobes(), track); err == nil {
			t.Errorf("%s: measured %v, want an error", name, m)
		}
	}
}

var nan32 = Hertz(math.NaN())

func TestMeasureAgreesOnPulses(t *testing.T) {
	rec, err := NewRecording("quiet.wav", 8000, make([]float64, 8000))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		rotor, opt int
		want       int // 0 stands for ErrPulses
	}{{0, 0, 1}, {3, 0, 3}, {0, 3, 3}, {3, 3, 3}, {3, 5, 0}, {-1, 0, 0}, {0, -2, 0}, {-1, 3, 0}} {
		m, err := Measure(rec, Rotor{Pulses: c.rotor}, Options{Pulses: c.opt})
		if c.want == 0 {
			if !errors.Is(err, ErrPulses) {
				t.Errorf("rotor %d, options %d: error %v, want ErrPulses", c.rotor, c.opt, err)
			}
			continue
		}
		if err != nil || m.Rotor.Pulses != c.want {
			t.Errorf("rotor %d, options %d: %v, %v; want %d pulses", c.rotor, c.opt, m, err, c.want)
		}
		if err == nil && m.Verdict != VerdictNoReading {
			t.Errorf("silence has the verdict %q, want no reading", m.Verdict)
		}
	}
	_, err = Measure(rec, Rotor{Pulses: 3, Radius: Exact(4, "s")}, Options{})
	if !errors.Is(err, ErrUnit) {
		t.Errorf("a radius of 4 s: error %v, want ErrUnit", err)
	}
	_, err = Measure(rec, Rotor{Pulses: 3, Radius: Exact(-4, "cm")}, Options{})
	if !errors.Is(err, ErrRadius) {
		t.Errorf("a radius of -4 cm: error %v, want ErrRadius", err)
	}
}

// A pulse train of 130 Hz is measured as what it is, end to end; without a count
// of pulses the repetition is the turn, and a warning says so.
func TestMeasureAPulseTrain(t *testing.T) {
	const fs, n = 8000, 16000
	x := synth.WhiteNoise(synth.Source(1), 1e-2, n)
	for i, p := range synth.PulseTrain(130, 0.1, fs, n) {
		x[i] += 0.3 * p
	}
	rec, err := NewRecording("train", fs, x)
	if err != nil {
		t.Fatal(err)
	}
	m, err := Measure(rec, Rotor{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	top, ok := m.Top()
	if !ok {
		t.Fatalf("no reading of a loud pulse train: %v", m.Reasons)
	}
	// Five standard uncertainties: the seed is fixed, the estimator may change.
	if score := Score(top, Exact(130, "rev/s")); math.Abs(score) > 5 || top.U() > 0.05 {
		t.Errorf("speed %v, 95 %% interval %s; want 130 rev/s within five times less than 0.05", top, top.Between())
	}
	if !strings.Contains(fmt.Sprint(m.Warnings), "pulses per revolution was not given") {
		t.Errorf("warnings %q do not say that the pulses were not given", m.Warnings)
	}
}
