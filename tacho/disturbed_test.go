package tacho

import (
	"math"
	"slices"
	"testing"

	"rotorhum/tacho/internal/sound"
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
			take, src, opt, in := followedIn(t, scene, 5)
			if len(in) != 1 {
				t.Fatalf("seed %d: %d stretches", seed, len(in))
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

// Beside a talker each syllable moves the phases for as long as it lasts. Followed a last
// time, the intervals of a coasting rotor's track miss the truth of synthetic recordings
// by a third less often at least.
func TestHeardOutBesideATalkerIntervalsHold(t *testing.T) {
	before, after, all := 0, 0, 0
	for seed := range uint64(4) {
		take, src, opt, in := followedIn(t, synth.Scene{Rate: 16000, Seconds: 8, Seed: 700 + seed, Noise: []synth.Noise{synth.White(20)},
			Voices: []synth.Voice{{LevelDB: 4}},
			Rotors: []synth.Rotor{{Pulses: 4, Profile: synth.Ramp(60, 45, 0, 8), RandomPhases: true}}}, 4)
		was := slices.Clone(in)
		if err := heardOut(src, in, opt); err != nil {
			t.Fatal(err)
		}
		for i, s := range in {
			if offTruth(s, take) < 0.01 { // else it is one of the shaft's lines, to be read as such later
				a, n := missed(was[i], take)
				b, _ := missed(s, take)
				before, after, all = before+a, after+b, all+n
			}
		}
	}
	if all < 500 || 3*after > 2*before {
		t.Errorf("intervals miss the truth at %d of %d points, %d before", after, all, before)
	}
}

// missed returns at how many of n points the 95 % interval of a stretch's rate misses the
// truth.
func missed(s *stretch, take *synth.Take) (out, n int) {
	from, to := s.times()
	for at := from; at < to; at += 0.02 {
		hz, u, _ := s.at(at)
		if math.Abs(hz-take.Truth.PulseRate(at)) > 1.96*u {
			out++
		}
		n++
	}
	return out, n
}

// followedIn makes a recording of a rotor that gives so many pulses a turn, and follows it.
func followedIn(t *testing.T, scene synth.Scene, pulses int) (*synth.Take, *sound.Source, Options, []*stretch) {
	t.Helper()
	take, err := scene.Make()
	if err != nil {
		t.Fatal(err)
	}
	src, opt := opened(t, Options{Pulses: pulses, ClockPPM: -1}, float64(take.Rate), take.Samples...)
	in, _, err := usual.follow(src, opt)
	if err != nil {
		t.Fatal(err)
	}
	return take, src, opt, in
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

// opened opens samples, channel by channel, as a measurement does.
func opened(t *testing.T, opt Options, rate float64, x ...[]float64) (*sound.Source, Options) {
	t.Helper()
	rec, err := NewRecording("a rotor", rate, x...)
	if err != nil {
		t.Fatal(err)
	}
	if opt, err = opt.normal(rec); err != nil {
		t.Fatal(err)
	}
	src, err := opt.source(rec)
	if err != nil {
		t.Fatal(err)
	}
	return src, opt
}
