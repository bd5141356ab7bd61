package tacho

import (
	"math"
	"testing"

	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
	"rotorhum/tacho/synth"
)

// Lines break off between the notes of a tune at one pitch, and do not break off
// in a rotor, whatever sounds with it or happens to the recorder.
func TestBreaksOfNotesAndNotOfRotors(t *testing.T) {
	const seconds, rate = 6, 220.0
	rotor := []synth.Rotor{{Pulses: 1, Profile: synth.Steady(rate), PulseWidth: 0.06, RandomPhases: true, Level: 0.1}}
	base := synth.Scene{Rate: 16000, Seconds: seconds, Seed: 5, Peak: 0.7, Noise: []synth.Noise{synth.Pink(20)}, Rotors: rotor}
	gated := func(x []float64) {
		for i := range x {
			// on for half a second, soft ends of 20 ms, off for a quarter
			u := math.Mod(float64(i)/base16, 0.75)
			g := math.Min(1, math.Max(0, math.Min(u, 0.5-u)/0.02))
			x[i] *= g
		}
	}
	for _, c := range []struct {
		name        string
		change      func(*synth.Scene)
		gate        bool
		least, most int
	}{
		{"a rotor", func(*synth.Scene) {}, false, 0, 0},
		{"a rotor and a talker", func(s *synth.Scene) { s.Voices = []synth.Voice{{LevelDB: 3}} }, false, 0, 1},
		{"a recorder that loses the sound", func(s *synth.Scene) { s.Dropouts = &synth.Dropouts{PerSecond: 2, Seconds: 0.05} }, false, 0, 1},
		{"a rotor in an echoing hall", func(s *synth.Scene) { s.Room = &synth.Room{RT60: 2, Direct: 0} }, false, 0, 0},
		{"the same note again and again", func(*synth.Scene) {}, true, 8, 16},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := base
			c.change(&s)
			take, err := s.Make()
			if err != nil {
				t.Fatal(err)
			}
			x := take.Samples[0]
			if c.gate {
				hiss := synth.Scene{Rate: 16000, Seconds: seconds, Seed: 6, Peak: 0.01, Noise: []synth.Noise{synth.Pink(0)}}
				quiet, err := hiss.Make()
				if err != nil {
					t.Fatal(err)
				}
				gated(x)
				for i, v := range quiet.Samples[0] {
					x[i] += v
				}
			}
			read := func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }
			src, err := sound.New(read, []int{0}, len(x), 16000, 16000)
			if err != nil {
				t.Fatal(err)
			}
			// followed by hand: the rate is known
			r, err := phase.Follow(src, phase.Course{T: []float64{0, seconds}, Rate: []float64{rate, rate}}, 1e-4,
				phase.Options{Harmonics: lineHarmonics, Memory: lineMemory})
			if err != nil || r == nil {
				t.Fatal("not followed:", err)
			}
			went, err := (&stretch{fit: r}).continuity(src)
			if err != nil {
				t.Fatal(err)
			}
			n, held := went.breaks, went.held
			if n < c.least || n > c.most {
				t.Errorf("%d breaks, want %d to %d", n, c.least, c.most)
			}
			if held < 0.5*seconds {
				t.Errorf("breaks could be noticed for %.2f of %d s only", held, seconds)
			}
		})
	}
}

// A rotor that turns more slowly is softer: its lines have not broken off, though they are
// no longer what they were.
func TestSofterLinesAfterABrakeHaveNotBrokenOff(t *testing.T) {
	const seconds, all = 1.64, 8
	breaks := 0
	for seed := range uint64(all) {
		s := synth.Scene{Rate: 16000, Seconds: seconds, Seed: 60 + seed, Peak: 0.7, Noise: []synth.Noise{{SNR: 6, Slope: -3}},
			Rotors: []synth.Rotor{{Pulses: 1, Profile: synth.Ramp(155, 72, 0.64, 0.39), PulseWidth: 0.1, RandomPhases: true, Level: 0.1, Growth: 2}}}
		take, err := s.Make()
		if err != nil {
			t.Fatal(err)
		}
		x := take.Samples[0]
		read := func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }
		src, err := sound.New(read, []int{0}, len(x), 16000, 16000)
		if err != nil {
			t.Fatal(err)
		}
		var c phase.Course
		for at := 0.0; at < seconds; at += 0.005 {
			c.Add(at, take.Truth.PulseRate(at), 0)
		}
		r, err := phase.Follow(src, c, 1e-3, phase.Options{Harmonics: lineHarmonics, Memory: lineMemory})
		if err != nil || r == nil {
			t.Fatal("not followed:", err)
		}
		went, err := (&stretch{fit: r}).continuity(src)
		if err != nil {
			t.Fatal(err)
		}
		breaks += went.breaks
	}
	if breaks > all/4 {
		t.Errorf("%d breaks in %d brakes", breaks, all)
	}
}

// base16 is the sampling rate of these scenes.
const base16 = 16000.0

// The odds are those of what is counted: they fall with every break and every step.
func TestOddsFallWithBreaks(t *testing.T) {
	for _, held := range []float64{0.5, 2, 10} {
		last := math.Inf(1)
		for n := range 12 {
			v := soundingOn(n, held)
			if v > last {
				t.Errorf("%d breaks in %g s speak more for a rotor (%.2f nats) than %d (%.2f)", n, held, v, n-1, last)
			}
			last = v
		}
		if none := soundingOn(0, held); none < 0 || none > 1.1 {
			t.Errorf("no break in %g s is worth %.2f nats, want 0 to 1.1", held, none)
		}
	}
	if v := keeping(1, 0.01, 1); v < 1 {
		t.Errorf("a stretch that keeps all phases is worth %.2f nats, want 1 and more", v)
	}
	if held, moves := keeping(0.75, 0.1, 1), keeping(0.75, 0.1, 0); held > moves {
		t.Errorf("phases lost while the rate holds count %.2f nats, while it changes %.2f: a room does that", held, moves)
	}
}
