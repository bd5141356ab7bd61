package tacho_test

import (
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// A rotor beside a talker who is louder than it all the time, and whose voice lies about
// its rate, is heard by what goes on between the syllables: against the truth of
// synthetic recordings.
func TestWhatLastsIsHeardBesideALouderVoice(t *testing.T) {
	right := 0
	for seed := range uint64(10) {
		rec, take := taken(t, synth.Scene{Rate: 16000, Seconds: 6, Seed: 300 + seed, Peak: 0.8, Noise: []synth.Noise{synth.Pink(20)}, Voices: []synth.Voice{{LevelDB: 7, Pitch: 107}},
			Rotors: []synth.Rotor{{Pulses: 5, Profile: synth.Steady(21), PulseWidth: 0.06, RandomPhases: true, Level: 0.1}}})
		track, err := tacho.Follow(rec, tacho.Options{Pulses: 5})
		if err != nil {
			t.Fatal(err)
		}
		off := gross(track, take)
		heard := float64(len(track.Points)) * track.Step
		if heard > 2 && 20*off <= len(track.Points) {
			right++
		}
		t.Logf("seed %d: %.2f s heard, %d of %d points off; %v", seed, heard, off, len(track.Points), track.Reasons)
	}
	if right < 6 {
		t.Errorf("%d of 10 recordings read rightly, want 6", right)
	}
}
