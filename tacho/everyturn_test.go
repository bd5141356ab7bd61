package tacho_test

import (
	"math"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// Vanes set a little unevenly make the pulses of a slow rotor come early and late, turn
// for turn alike. Where a high-pass filter has left none of the lines between those of
// the pulses, what was followed is all that shows it: no speed that swings once a turn.
func TestWhatComesWithEveryTurnIsNoSwing(t *testing.T) {
	steady, held := 0, 0
	const all = 12
	for seed := range uint64(all) {
		z := 5 + int(seed%3)
		rate := 24.5 + 0.3*float64(seed)
		rec, _ := taken(t, synth.Scene{Rate: 16000, Seconds: 5, Seed: seed + 31, Peak: 0.7,
			Rotors: []synth.Rotor{{Pulses: z, Profile: synth.Steady(rate / float64(z)), PulseWidth: 0.02, AngleSpread: 0.03}},
			Noise:  []synth.Noise{synth.White(15)}, Microphone: &synth.Microphone{HighPass: 150, Order: 4}})
		track, err := tacho.Follow(rec, tacho.Options{Pulses: z, ClockPPM: -1})
		if err != nil {
			t.Fatal(err)
		}
		if track.Verdict == tacho.VerdictSteady {
			steady++
		}
		for _, p := range track.Points {
			if math.Abs(float64(p.Tone)/rate-1) > 5e-4 {
				t.Errorf("%d vanes at %.1f pulses/s: %.3f at %.2f s", z, rate, p.Tone, p.T)
				break
			}
		}
		if f := track.Steady; f != nil && math.Abs(f.Tone.X-rate) < 2.2*f.Tone.U() {
			held++
		}
	}
	if steady < all-1 || held < all-2 {
		t.Errorf("of %d rotors %d are steady, the intervals of %d hold the truth", all, steady, held)
	}
}
