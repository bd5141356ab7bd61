package tacho_test

import (
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// In a hall where the echo is louder than the sound itself all lines lag behind the rate
// together, for Rice (1948, from memory) by the decay time of the energy, RT60/13.8, times
// exp(-direct/echo): here some 85 ms, or 1.5 % of the rate. What no line contradicts the
// intervals must know: told by the lines' own spread alone they hold three tenths of the
// points.
func TestIntervalsHoldInAHall(t *testing.T) {
	t.Parallel()
	held, points, read := 0, 0, 0
	for seed := range uint64(8) {
		rec, take := taken(t, synth.Scene{Rate: 16000, Seconds: 6, Seed: 70 + seed, Peak: 0.7, Noise: []synth.Noise{synth.Pink(20)},
			Room:   &synth.Room{RT60: 2, Direct: -2, Gap: 0.01},
			Rotors: []synth.Rotor{{Pulses: 4, Profile: synth.ExponentialRamp(100, 40, 0, 6), PulseWidth: 0.06}}})
		track, err := tacho.Follow(rec, tacho.Options{Pulses: 4, ClockPPM: -1})
		if err != nil {
			t.Fatal(err)
		}
		if len(track.Points) < 200 || 20*gross(track, take) > len(track.Points) {
			t.Logf("seed %d: %d points, %d off; %v", seed, len(track.Points), gross(track, take), track.Reasons)
			continue
		}
		read++
		in := holding(track, take)
		held, points = held+in, points+len(track.Points)
		t.Logf("seed %d: %d of %d held", seed, in, len(track.Points))
	}
	t.Logf("read %d, held %d of %d", read, held, points)
	if read < 6 || 10*held < 8*points {
		t.Errorf("%d of 8 recordings read rightly, the intervals hold %d of %d points", read, held, points)
	}
}

// A rotor that is pushed hard in a hall is as restless as a voice, and keeps its phases
// no better; but no voice goes from one rate to a multiple of that in one breath. One who
// takes that for nothing reads two such recordings of twelve.
func TestPushedHardInAHall(t *testing.T) {
	t.Parallel()
	const top, each = 70.0, 6
	push := func(start, seconds, accel float64) synth.Push {
		return synth.Push{Start: start, Seconds: seconds, Accel: top * accel, Rise: 0.05}
	}
	read := 0
	for _, pushes := range [][]synth.Push{
		{push(0.4, 0.35, 3.5), push(1.3, 0.35, 3.5), push(2.2, 0.35, 3.5)},
		{push(0.4, 0.5, 3), push(1.5, 0.5, 3), push(2.6, 0.5, 3)},
	} {
		for seed := range uint64(each) {
			rec, take := taken(t, synth.Scene{Rate: 16000, Seconds: 4, Seed: 80 + seed, Peak: 0.7, Noise: []synth.Noise{synth.Pink(20)},
				Room: &synth.Room{RT60: 2, Direct: 3, Gap: 0.01},
				Rotors: []synth.Rotor{{Pulses: 4, Growth: 1, PulseWidth: 0.06,
					Profile: synth.Trial(synth.Friction{Coulomb: top / 20, Viscous: 1, Quadratic: 1 / top}, pushes...)}}})
			track, err := tacho.Follow(rec, tacho.Options{Pulses: 4, ClockPPM: -1})
			if err != nil {
				t.Fatal(err)
			}
			off := gross(track, take)
			if n := len(track.Points); n > 50 && 10*off <= n {
				read++
			} else {
				t.Logf("%d points, %d off; %v", len(track.Points), off, track.Reasons)
			}
		}
	}
	t.Logf("%d read", read)
	if read < 6 {
		t.Errorf("%d of %d recordings read rightly, want 6", read, 2*each)
	}
}
