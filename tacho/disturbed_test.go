package tacho

import (
	"testing"

	"rotorhum/tacho/synth"
)

// In a room every line beats with its own echoes. Followed a last time, lines count by
// how much: the track comes nearer to the truth of synthetic recordings, and nothing
// else of it changes. Without a room nothing is followed again.
func TestHeardOutComesNearerInARoom(t *testing.T) {
	before, after := 0.0, 0.0
	for seed := range uint64(8) {
		scene := synth.Scene{Rate: 16000, Seconds: 6, Seed: 40 + seed, Noise: []synth.Noise{synth.White(20)},
			Rotors: []synth.Rotor{{Pulses: 5, Profile: synth.Ramp(18, 30, 1, 4), RandomPhases: true}},
			Room:   &synth.Room{RT60: 1.2, Direct: 4}}
		for _, room := range []bool{true, false} {
			if !room {
				scene.Room = nil
			}
			take, err := scene.Make()
			if err != nil {
				t.Fatal(err)
			}
			rec, err := NewRecording("a ramp", float64(take.Rate), take.Samples...)
			if err != nil {
				t.Fatal(err)
			}
			opt, err := Options{Pulses: 5, ClockPPM: -1}.normal(rec)
			if err != nil {
				t.Fatal(err)
			}
			src, err := opt.source(rec)
			if err != nil {
				t.Fatal(err)
			}
			in, _, err := usual.follow(src, opt)
			if err != nil || len(in) != 1 {
				t.Fatalf("seed %d: %d stretches, %v", seed, len(in), err)
			}
			was := in[0]
			if err := heardOut(src, in, opt); err != nil {
				t.Fatal(err)
			}
			if !room {
				if in[0] != was {
					t.Errorf("seed %d: followed again where nothing disturbs", seed)
				}
				continue
			}
			before += offTruth(was, take)
			after += offTruth(in[0], take)
			if in[0].rotor != was.rotor || !in[0].stillIs(was) {
				t.Errorf("seed %d: not the same stretch any more", seed)
			}
		}
	}
	if !(after < 0.85*before) {
		t.Errorf("mean square error %.3g of that before, want at most 0.85", after/before)
	}
}

// offTruth returns the mean square of the relative error of a stretch.
func offTruth(s *stretch, take *synth.Take) float64 {
	sum, n := 0.0, 0.0
	from, to := s.times()
	for at := from; at < to; at += 0.02 {
		hz, _, _ := s.at(at)
		e := hz/take.Truth.PulseRate(at) - 1
		sum += e * e
		n++
	}
	return sum / n
}
