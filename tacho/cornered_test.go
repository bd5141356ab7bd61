package tacho_test

import (
	"math"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// A high-pass whose corner lies among the lines of a slow rotor delays them by some
// milliseconds, all in common. By how the delay goes with the frequency it is found, with
// its corner, and the intervals of a changing speed hold all the same: some three in five
// would, of lines taken as they are heard.
func TestACornerAmongTheLinesMakesNoSpeedLate(t *testing.T) {
	held, all, squares, found := 0.0, 0.0, 0.0, 0.0
	for seed := range uint64(9) {
		order, up, corner := 2+int(seed%3), 1.3+0.1*float64(seed%4), 110+15*float64(seed)
		profile := synth.ExponentialRamp(21, 21*up, 0.5, 5)
		if seed%2 == 1 {
			profile = synth.ExponentialRamp(23*up, 23, 0.5, 6)
		}
		rec, truth := taken(t, synth.Scene{Rate: 16000, Seconds: 7, Seed: seed + 57, Peak: 0.7,
			Rotors: []synth.Rotor{{Pulses: 1, Profile: profile, PulseWidth: 0.025, RandomPhases: true}},
			Noise:  []synth.Noise{synth.White(20)}, Microphone: &synth.Microphone{HighPass: corner, Order: order}})
		in, err := tacho.Inspect(rec, tacho.Options{Pulses: 1, ClockPPM: -1})
		if err != nil {
			t.Fatal(err)
		}
		track := in.Track
		for _, f := range in.Fits {
			if c := f.HighPass; c != nil {
				z := (c.X - corner) / c.U()
				squares, found = squares+z*z, found+1
			}
		}
		if track.Verdict == tacho.VerdictNoReading {
			t.Errorf("seed %d: no reading: %v", seed, track.Reasons)
		}
		for _, p := range track.Points {
			f := truth.Truth.PulseRate(p.T)
			if math.Abs(float64(p.Tone)/f-1) > 0.03 {
				t.Errorf("seed %d: %.3f at %.2f s, want %.3f", seed, p.Tone, p.T, f)
				break
			}
			if all++; float64(p.Lo95) <= f && f <= float64(p.Hi95) {
				held++
			}
		}
	}
	if rms := math.Sqrt(squares / found); found != 9 || !(rms < 1.5) {
		t.Errorf("%g corners, errors of %.2f times their uncertainty (rms), want 9 and one", found, rms)
	}
	if held /= all; held < 0.85 {
		t.Errorf("%.0f %% of the intervals hold, want 95", 100*held)
	}
}

// What clips turns its lines by how loud it is, and that goes with the rate of what sounds the
// louder the faster it turns. It is no filter, however much nearer a filter is to it than
// none.
func TestClippingIsNoCorner(t *testing.T) {
	held, all := 0.0, 0.0
	for seed := range uint64(8) {
		rec, truth := taken(t, synth.Scene{Rate: 8000, Seconds: 8.2, Seed: 7*seed + 10, Peak: 0.87,
			Rotors: []synth.Rotor{{Pulses: 6, Profile: synth.ExponentialRamp(5.87, 12.67, 1.43, 6.76), PulseWidth: 0.047, Growth: 2, RandomPhases: true}},
			Noise:  []synth.Noise{synth.White(18)}, Clip: 0.2})
		in, err := tacho.Inspect(rec, tacho.Options{ClockPPM: -1})
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range in.Fits {
			if f.HighPass != nil {
				t.Errorf("seed %d: a corner at %s", seed, f.HighPass)
			}
		}
		for _, p := range in.Track.Points {
			f := truth.Truth.PulseRate(p.T)
			if all++; float64(p.Lo95) <= f && f <= float64(p.Hi95) {
				held++
			}
		}
	}
	if held /= all; !(held > 0.85) {
		t.Errorf("%.0f %% of the intervals hold, want 95", 100*held)
	}
}
