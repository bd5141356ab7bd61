package tacho_test

import (
	"math"
	"strings"
	"testing"

	"rotorhum/scripts/accuracy/exam"
	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// Who says that the motion is steady is read at the speed of the rotor, the louder one of
// two, though another beside it or unlike blades make stacks that explain more of one
// spectrum: against the truth of synthetic recordings.
func TestSaidToBeSteady(t *testing.T) {
	blades := func(z int, hz, gain, angle, level float64) synth.Rotor {
		r := synth.Rotor{Pulses: z, PulseWidth: 0.1, GainSpread: gain, AngleSpread: angle, Profile: synth.Steady(hz / float64(z))}
		if r.LevelDB = level; level == 0 {
			r.Level = 0.1
		}
		return r
	}
	for name, rotors := range map[string][]synth.Rotor{
		"two at 5:4":            {blades(4, 121, 0.1, 0.01, 0), blades(5, 121*1.25, 0.1, 0.01, -5)},
		"two at 4:5":            {blades(6, 128, 0.1, 0.01, 0), blades(5, 128*0.8, 0.1, 0.01, -6)},
		"one at -3 dB":          {blades(7, 190, 0.1, 0.01, 0), blades(3, 137, 0.1, 0.01, -3)},
		"two unlike blades":     {blades(2, 125, 0.15, 0.02, 0)},
		"three unlike blades":   {blades(3, 99, 0.15, 0.02, 0)},
		"three, more unlike":    {blades(3, 199, 0.2, 0.03, 0)},
		"two slow, narrow ones": {blades(2, 50.6, 0.2, 0.02, 0)},
	} {
		for seed := uint64(41); seed < 43; seed++ {
			s := synth.Scene{Rate: 16000, Seconds: 4, Seed: seed, Rotors: rotors, Noise: []synth.Noise{synth.White(14)}}
			z := rotors[0].Pulses
			track := follow(t, s, tacho.Options{Pulses: z, Motion: tacho.Steady, ClockPPM: -1})
			truth := rotors[0].Profile.Speed * float64(z)
			if track.Steady == nil {
				t.Errorf("%s, seed %d: %s %v", name, seed, track.Verdict, track.Reasons)
			} else if hz := track.Steady.Tone.X; math.Abs(hz/truth-1) > 0.001 {
				t.Errorf("%s, seed %d: %.3f Hz, want %.3f: %v", name, seed, hz, truth, track.Alternatives)
			}
		}
	}
}

// Of a speed that doubles no one speed is told without a word of doubt, whatever was said.
func TestSaidToBeSteadyButMoves(t *testing.T) {
	track := follow(t, synth.Scene{Rate: 8000, Seconds: 4, Seed: 44, Noise: []synth.Noise{synth.White(10)},
		Rotors: []synth.Rotor{{Pulses: 1, Profile: synth.ExponentialRamp(70, 140, 0, 4), Harmonics: []float64{1, 0.8, 0.7, 0.6, 0.5}, RandomPhases: true}}},
		tacho.Options{Motion: tacho.Steady})
	said := strings.Join(append(track.Reasons, track.Warnings...), " ")
	if !strings.Contains(said, "does not hold one speed") && !strings.Contains(said, "does not seem to hold") {
		t.Errorf("%s %v: %q", track.Verdict, track.Steady, said)
	}
}

// Where the shaft of unlike blades turns below a range that was stated, and the pulses come
// within it, the pulses are read.
func TestShaftBelowTheStatedRange(t *testing.T) {
	const z, shaft = 5, 20.65
	rec, _ := taken(t, synth.Scene{Rate: 16000, Seconds: 2, Seed: 45, Noise: []synth.Noise{synth.White(30)},
		Rotors: []synth.Rotor{{Pulses: z, Profile: synth.Steady(shaft), PulseWidth: 0.25, BladeGains: []float64{1, 0.5, 0.4, 1, 0.2}}}})
	for _, motion := range []tacho.Motion{tacho.Auto, tacho.Steady} {
		f, err := tacho.FindFamily(rec, tacho.Options{Pulses: z, Motion: motion, ClockPPM: -1, Range: tacho.Range{Lo: 78, Hi: 177}})
		if err != nil || math.Abs(f.Tone.X/(z*shaft)-1) > 0.001 {
			t.Errorf("%s: %v, %v; want %v Hz", motion, f, err, z*shaft)
		}
	}
}

// Faint rotors of which nobody said that they are steady are read as well: five harmonics
// in white noise, a second long, as the exam draws them. Noise alone is hardly ever read.
func TestFaintAndUntold(t *testing.T) {
	if testing.Short() {
		t.Skip("measures two hundred recordings")
	}
	least := map[string]int{"-15 dB": 40, "-22 dB": 17} // of 40
	right := map[string]int{}
	for _, c := range exam.Classes() {
		if c.Name != "steady" {
			continue
		}
		for i := range 200 {
			k := c.Case(47, i)
			if least[k.Group] == 0 {
				continue
			}
			k.Options.Motion = tacho.Auto
			track := follow(t, k.Scene, k.Options)
			truth := k.Scene.Rotors[0].Profile.Speed
			switch {
			case track.Steady != nil && math.Abs(track.Steady.Tone.X/truth-1) < 0.01:
				right[k.Group]++
			case len(track.Points) > 0:
				t.Logf("%s, draw %d: %v, want %.2f Hz", k.Group, i, track, truth)
			}
		}
	}
	t.Logf("right of 40: %v", right)
	for group, n := range least {
		if right[group] < n {
			t.Errorf("%s: %d of 40 right, want %d", group, right[group], n)
		}
	}
	const most = 2
	read := 0
	for seed := range uint64(150) {
		track := follow(t, synth.Scene{Rate: 8000, Seconds: 1, Seed: 4700 + seed, Noise: []synth.Noise{{Slope: float64(seed%4)*3 - 6}}},
			tacho.Options{Range: tacho.Range{Lo: 30, Hi: 800}})
		if track.Verdict != tacho.VerdictNoReading {
			read++
			t.Logf("noise %d: %v", seed, track)
		}
	}
	if read > most {
		t.Errorf("noise alone was read in %d recordings of 150, at most %d", read, most)
	}
}
