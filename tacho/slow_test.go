package tacho_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// slowed follows a rotor with five pulses a turn over the default range, in which
// its multiples still lie when it has slowed down below it.
func slowed(t *testing.T, profile synth.Profile, seconds float64, lo tacho.Hertz) (*tacho.Track, *synth.Take) {
	t.Helper()
	rec, take := taken(t, synth.Scene{Rate: 8000, Seconds: seconds, Seed: 21, Noise: []synth.Noise{synth.White(15)},
		Rotors: []synth.Rotor{{Pulses: 5, Profile: profile, Harmonics: []float64{1, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3}, RandomPhases: true}}})
	track, err := tacho.Follow(rec, tacho.Options{Pulses: 5, ClockPPM: -1, Range: tacho.Range{Lo: lo, Hi: 6000}})
	if err != nil {
		t.Fatal(err)
	}
	return track, take
}

// A rotor that slows down below the range is not read at the multiples that stay within,
// and is read again where it is pushed anew, be the push brief: against the truth of
// synthetic recordings.
func TestBelowTheRangeNoMultipleIsRead(t *testing.T) {
	for name, c := range map[string]struct {
		profile   synth.Profile
		seconds   float64
		from, end float64 // what must be read to a hundredth, of the time of the second speed
	}{
		"stays there":   {synth.Ramp(30, 3, 0.5, 1), 2.8, 0, 0.4},
		"comes from it": {synth.Ramp(3, 30, 1, 1), 2.8, 2.1, 2.7},
		"pushed again":  {synth.Through(synth.Point{T: 0, Speed: 24}, synth.Point{T: 4, Speed: 3}, synth.Point{T: 4.5, Speed: 3}, synth.Point{T: 5.1, Speed: 22}, synth.Point{T: 8, Speed: 12}), 8, 5.5, 7.8},
		"a brief second": {synth.Through(synth.Point{T: 0, Speed: 18}, synth.Point{T: 4, Speed: 4.4}, synth.Point{T: 4.15, Speed: 8},
			synth.Point{T: 4.6, Speed: 21}, synth.Point{T: 4.75, Speed: 21}, synth.Point{T: 5.15, Speed: 0}), 5.4, 4.45, 4.85},
	} {
		track, take := slowed(t, c.profile, c.seconds, 20)
		seen := 0.0
		for _, p := range track.Points {
			truth := take.Truth.PulseRate(p.T)
			if math.Abs(float64(p.Tone)/truth-1) > 0.05 && math.Abs(float64(p.Tone)-truth) > 2 {
				t.Errorf("%s: %v at %.2f s, where %.2f Hz is true", name, p.Tone, p.T, truth)
				break
			}
			if p.T >= c.from && p.T <= c.end && math.Abs(float64(p.Tone)/truth-1) < 0.01 {
				seen += track.Step
			}
		}
		if seen < 0.8*(c.end-c.from) {
			t.Errorf("%s: read to a hundredth for %.2f s of the %.2f s from %.2f s on", name, seen, c.end-c.from, c.from)
		}
	}
}

// What turns below the range all the time has no reading, and the reason says what to
// do; it has one where the range is lower.
func TestBelowTheRangeThereIsNoReading(t *testing.T) {
	slow := synth.Steady(2.9).Wobbling(synth.Wow{Rate: 0.3, Depth: 0.03})
	track, _ := slowed(t, slow, 6, 20)
	if track.Verdict != tacho.VerdictNoReading || !strings.Contains(strings.Join(track.Reasons, " "), "lower the range") {
		t.Errorf("14.5 Hz in a range from 20 Hz: %s, %d points, %q", track.Verdict, len(track.Points), track.Reasons)
	}
	track, take := slowed(t, slow, 6, 10)
	if p, err := track.Peak(); err != nil || math.Abs(p.Tone.X/(5*take.Truth.PeakSpeed)-1) > 0.002 {
		t.Errorf("14.5 Hz in a range from 10 Hz: %v, %v", p, err)
	}
}

// Who says that the motion is steady gets no multiple of a rate below the range either,
// but what sounds within it beside a slower stranger is read.
func TestBelowTheRangeNothingIsSteady(t *testing.T) {
	lines := []float64{1, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3}
	steady := func(rotors ...synth.Rotor) (*tacho.Recording, tacho.Options) {
		rec, _ := taken(t, synth.Scene{Rate: 8000, Seconds: 2, Seed: 22, Noise: []synth.Noise{synth.White(10)}, Rotors: rotors})
		return rec, tacho.Options{Motion: tacho.Steady, ClockPPM: -1}
	}
	rotor := func(hz float64) synth.Rotor {
		return synth.Rotor{Pulses: 1, Profile: synth.Steady(hz), Harmonics: lines, RandomPhases: true}
	}
	for _, hz := range []float64{11.3, 14.5, 19.2} {
		rec, opt := steady(rotor(hz))
		track, err := tacho.Follow(rec, opt)
		if err != nil {
			t.Fatal(err)
		}
		if track.Verdict != tacho.VerdictNoReading || !strings.Contains(strings.Join(track.Reasons, " "), "lower the range") {
			t.Errorf("%v Hz in a range from 20 Hz: %s, %q", hz, track.Verdict, track.Reasons)
		}
		if f, err := tacho.FindFamily(rec, opt); !errors.Is(err, tacho.ErrNoReading) {
			t.Errorf("%v Hz in a range from 20 Hz: family %v, %v", hz, f, err)
		}
		if s, err := tacho.InspectFamily(rec, opt); err != nil || s.Family != nil || !strings.Contains(s.Reason, "lower the range") {
			t.Errorf("%v Hz in a range from 20 Hz inspected: %v, %q", hz, err, s.Reason)
		}
		opt.Range = tacho.Range{Lo: 10, Hi: 6000}
		if f, err := tacho.FindFamily(rec, opt); err != nil || math.Abs(f.Tone.X/hz-1) > 0.001 {
			t.Errorf("%v Hz in a range from 10 Hz: %v, %v", hz, f, err)
		}
	}
	faster := rotor(47)
	faster.LevelDB = -12
	rec, opt := steady(rotor(14.5), faster)
	if f, err := tacho.FindFamily(rec, opt); err != nil || math.Abs(f.Tone.X/47-1) > 0.001 {
		t.Errorf("47 Hz beside 14.5 Hz: %v, %v", f, err)
	}
}
