package tacho_test

import (
	"math"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// follow measures a scene.
func follow(t *testing.T, s synth.Scene, opt tacho.Options) *tacho.Track {
	t.Helper()
	take, err := s.Make()
	if err != nil {
		t.Fatal(err)
	}
	rec, err := tacho.NewRecording(t.Name(), float64(take.Rate), take.Samples...)
	if err != nil {
		t.Fatal(err)
	}
	track, err := tacho.Follow(rec, opt)
	if err != nil {
		t.Fatal(err)
	}
	return track
}

// reads fails the test unless most points of a track lie within 1 % of hz.
func reads(t *testing.T, track *tacho.Track, hz float64) {
	t.Helper()
	near := 0
	for _, p := range track.Points {
		if math.Abs(float64(p.Tone)/hz-1) < 0.01 {
			near++
		}
	}
	if len(track.Points) == 0 || 10*near < 9*len(track.Points) {
		last := 0.0
		if n := len(track.Points); n > 0 {
			last = float64(track.Points[n/2].Tone)
		}
		t.Errorf("%d of %d points at %g Hz (the middle one at %g Hz); alternatives %v, reasons %v", near, len(track.Points), hz, last, track.Alternatives, track.Reasons)
	}
}

// Five blades, the weakest a third as strong as the strongest: every line of the
// shaft is heard, and the pulses win by their strengths.
func TestBladesHardlyAlike(t *testing.T) {
	s := synth.Scene{Rate: 16000, Seconds: 3, Seed: 4,
		Rotors: []synth.Rotor{{Pulses: 5, PulseWidth: 0.06, Profile: synth.Steady(23.1), Level: 0.1,
			BladeGains: []float64{1, 0.5, 1.4, 0.9, 0.6}, BladeShifts: []float64{0, 0.05, -0.06, 0.03, -0.04}}},
		Noise: []synth.Noise{synth.White(15)},
	}
	reads(t, follow(t, s, tacho.Options{Pulses: 5}), 5*23.1)
}

// With many pulses a turn the lines of a shaft lie close together. They must be told
// apart all the same: taken for noise they leave any multiple of a few of them as good
// as the pulse rate.
func TestManyBladesHardlyAlike(t *testing.T) {
	right := 0
	const all = 8
	for seed := range uint64(all) {
		hz := 110 + 9*float64(seed)
		s := synth.Scene{Rate: 22050, Seconds: 2, Seed: seed,
			Rotors: []synth.Rotor{{Pulses: 36, PulseWidth: 0.06, Profile: synth.Steady(hz / 36), Level: 0.1, GainSpread: 0.1, AngleSpread: 0.015}},
			Noise:  []synth.Noise{synth.White(25)},
		}
		track := follow(t, s, tacho.Options{Pulses: 36})
		if n := len(track.Points); n > 0 && math.Abs(float64(track.Points[n/2].Tone)/hz-1) < 0.01 {
			right++
		} else {
			t.Logf("%g Hz: %v", hz, track)
		}
	}
	if right < all {
		t.Errorf("%d of %d read right", right, all)
	}
}

// A stack of alike blades whose number is told stays what it is, although its
// lines could be those of a shaft.
func TestAlikeBladesAreNoShaft(t *testing.T) {
	for _, z := range []int{2, 3, 4, 6} {
		s := synth.Scene{Rate: 16000, Seconds: 2, Seed: 5,
			Rotors: []synth.Rotor{{Pulses: z, Harmonics: []float64{0.8, 0.5, 0.6, 0.3, 0.4, 0.2, 0.25, 0.2}, Profile: synth.Steady(150 / float64(z)), Level: 0.1}},
			Noise:  []synth.Noise{synth.White(15)},
		}
		reads(t, follow(t, s, tacho.Options{Pulses: z}), 150)
	}
}

// Two rotors at no simple ratio, the first with blades a little unlike: its lines
// between the pulses are its own, and the softer rotor is an alternative.
func TestSecondRotorLeavesTheBladesAlone(t *testing.T) {
	s := synth.Scene{Rate: 22050, Seconds: 3, Seed: 6,
		Rotors: []synth.Rotor{
			{Pulses: 2, PulseWidth: 0.05, Profile: synth.Steady(51.3), Level: 0.1, GainSpread: 0.06, AngleSpread: 0.015},
			{Pulses: 5, Harmonics: []float64{0.8, 0.4, 0.2, 0.1}, Profile: synth.Steady(8.85), LevelDB: -4},
		},
		Noise: []synth.Noise{synth.White(18)},
	}
	track := follow(t, s, tacho.Options{Pulses: 2})
	reads(t, track, 102.6)
	for _, a := range track.Alternatives {
		if math.Abs(float64(a.Tone)/44.25-1) < 0.01 {
			return
		}
	}
	t.Errorf("the second rotor at 44.25 Hz is not among the alternatives %v", track.Alternatives)
}

// What is asked for lies in the range, what is followed first is an overtone of
// something louder below it.
func TestLouderRotorBelowTheRange(t *testing.T) {
	s := synth.Scene{Rate: 32000, Seconds: 4, Seed: 7,
		Rotors: []synth.Rotor{
			{Pulses: 1, Harmonics: []float64{1, 0.4}, Profile: synth.Steady(1470), Level: 0.1},
			{Pulses: 2, Harmonics: []float64{1, 0.6, 0.5, 0.4, 0.3, 0.3, 0.3, 0.2}, Profile: synth.Steady(171.2), LevelDB: 3},
		},
		Noise: []synth.Noise{synth.White(15)},
	}
	reads(t, follow(t, s, tacho.Options{Pulses: 1, Range: tacho.Range{Lo: 810, Hi: 5700}}), 1470)
}

// Two rotors that speed up and slow down independently: the louder is followed from
// end to end, and the softer is an alternative.
func TestLouderOfTwoIndependentRotors(t *testing.T) {
	s := synth.Scene{Rate: 22050, Seconds: 5, Seed: 8,
		Rotors: []synth.Rotor{
			{Pulses: 1, Harmonics: []float64{0.25, 0.25, 0.3, 0.5, 0.7, 0.4, 0.25}, Level: 0.1,
				Profile: synth.Steady(781).Wobbling(synth.Wow{Rate: 0.76, Depth: 0.007})},
			{Pulses: 2, PulseWidth: 0.066, Profile: synth.Ramp(33, 41, 1, 3), LevelDB: -3},
		},
		Noise: []synth.Noise{synth.White(12)},
	}
	track := follow(t, s, tacho.Options{Pulses: 1})
	reads(t, track, 781)
	if n := len(track.Points); n < 230 {
		t.Errorf("%d points of some 250", n)
	}
	for _, a := range track.Alternatives {
		if x := float64(a.Tone); x > 60 && x < 88 {
			return
		}
	}
	t.Errorf("the second rotor, from 66 to 82 Hz, is not among the alternatives %v", track.Alternatives)
}

// Of a pulse rate far up in the band most multiples lie above half of the sampling
// rate, where no line is heard: they are no readings, and no odds can be given them.
func TestReadingsAboveTheBandHaveNoOdds(t *testing.T) {
	s := synth.Scene{Rate: 8000, Seconds: 3, Seed: 6,
		Rotors: []synth.Rotor{{Pulses: 7, PulseWidth: 0.06, Profile: synth.Steady(108.3), Level: 0.1}},
		Noise:  []synth.Noise{synth.White(12)},
	}
	track := follow(t, s, tacho.Options{Pulses: 7, Motion: tacho.Varying})
	reads(t, track, 7*108.3)
	for _, a := range track.Alternatives {
		if math.IsNaN(a.Odds) || float64(a.Tone) > 4000 {
			t.Errorf("an alternative at %g Hz has odds of %g", float64(a.Tone), a.Odds)
		}
	}
}
