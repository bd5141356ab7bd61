package tacho_test

import (
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// Where a rate goes from one steady value to another within a quarter of a second, frames
// show the one and the other and nothing between; its lines lead from one to the other.
// And where the one is near an edge of the recording, the other is not taken on to that.
// Against the truth of synthetic recordings.
func TestTurnsAreFollowedWhereFramesShowNothing(t *testing.T) {
	for _, v := range []struct {
		name          string
		profile       synth.Profile
		seconds       float64
		pulses, least int // so many of all recordings are read
		snr           float64
	}{
		{"a brake amid noise", synth.ExponentialRamp(68, 30.5, 1.07, 0.27), 2.6, 1, 7, 2},
		{"a push just after the start", synth.ExponentialRamp(29.3/8, 65.9/8, 0.19, 0.27), 1.01, 8, 8, 4},
	} {
		read := 0
		const all = 10
		for seed := range uint64(all) {
			rec, take := taken(t, synth.Scene{Rate: 16000, Seconds: v.seconds, Seed: 40 + seed, Noise: []synth.Noise{{SNR: v.snr, Slope: -3}},
				Rotors: []synth.Rotor{{Pulses: v.pulses, Profile: v.profile, PulseWidth: 0.09, RandomPhases: true}}})
			track, err := tacho.Follow(rec, tacho.Options{Pulses: v.pulses, ClockPPM: -1})
			if err != nil {
				t.Fatal(err)
			}
			n, off := len(track.Points), gross(track, take)
			if 20*off > n {
				t.Errorf("%s: %d of %d points are off by more than 3 %%", v.name, off, n)
			}
			if float64(n)*track.Step > 0.75*v.seconds && 20*off <= n {
				read++
			} else {
				t.Logf("%s %d: %d points, %d off, %v", v.name, seed, n, off, track.Reasons)
			}
		}
		if read < v.least {
			t.Errorf("%s: %d of %d read", v.name, read, all)
		}
	}
}

// A rotor that runs down in half a second and then holds: what it holds is not read where
// it ran down. Against the truth of synthetic recordings.
func TestARateThatHoldsIsNotTakenOnToAnEdgeWithoutIt(t *testing.T) {
	const all = 8
	read := 0
	for seed := range uint64(all) {
		rec, take := taken(t, synth.Scene{Rate: 16000, Seconds: 1.36, Seed: 60 + seed, Noise: []synth.Noise{{SNR: 3}},
			Rotors: []synth.Rotor{{Pulses: 3, Profile: synth.ExponentialRamp(35, 11.3, 0, 0.466), PulseWidth: 0.2, RandomPhases: true}}})
		track, err := tacho.Follow(rec, tacho.Options{Pulses: 3, ClockPPM: -1})
		if err != nil {
			t.Fatal(err)
		}
		n, off := len(track.Points), gross(track, take)
		if 10*off > n {
			t.Errorf("%d of %d points are off by more than 3 %%", off, n)
		}
		if n > 0 {
			read++
		}
	}
	if read < all-1 {
		t.Errorf("%d of %d read", read, all)
	}
}
