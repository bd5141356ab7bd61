package tacho_test

import (
	"fmt"
	"math"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// What sounds beside a rotor must not hide it, and must not be taken for one.
func TestATalkerAndATuneAreNoRotorsAndHideNone(t *testing.T) {
	rotor := synth.Rotor{Pulses: 5, Profile: synth.ExponentialRamp(20, 14, 0.5, 5), PulseWidth: 0.06, RandomPhases: true, Level: 0.1}
	talker := []synth.Voice{{LevelDB: 4}}
	chords := []synth.Music{{Parts: 3, Tempo: 120, Low: 150}}
	for _, c := range []struct {
		name  string
		scene synth.Scene
		// least is the number of recordings, of four, that must be read rightly
		least int
	}{
		{"a talker", synth.Scene{Voices: talker}, 4},
		{"chords", synth.Scene{Music: chords}, 4},
		{"a rotor under a talker", synth.Scene{Rotors: []synth.Rotor{rotor}, Voices: talker}, 3},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			right := 0
			for seed := range uint64(4) {
				s := c.scene
				s.Rate, s.Seconds, s.Seed, s.Peak, s.Noise = 16000, 6, 41+seed, 0.8, []synth.Noise{synth.Pink(20)}
				rec, take := taken(t, s)
				track, err := tacho.Follow(rec, tacho.Options{Pulses: 5})
				if err != nil {
					t.Fatal(err)
				}
				if len(s.Rotors) == 0 {
					if track.Verdict == tacho.VerdictNoReading {
						right++
					} else {
						t.Logf("seed %d: a reading of %.4g Hz", s.Seed, track.Top.Tone.X)
					}
					continue
				}
				off := gross(track, take)
				heard := float64(len(track.Points)) * track.Step
				if heard > 0.5*s.Seconds && 20*off <= len(track.Points) {
					right++
				} else {
					t.Logf("seed %d: %.2f s heard, %d of %d points off; %v", s.Seed, heard, off, len(track.Points), track.Reasons)
				}
			}
			if right < c.least {
				t.Errorf("%d of 4 recordings read rightly, want %d", right, c.least)
			}
		})
	}
}

// Blades that are not evenly set make the phase of the pulses swing with every turn.
// Over a brief run that is no restlessness of the rotor, if one is told their number:
// one who takes it for that reads one such recording of six.
func TestUnlikeBladesAreNoRestlessness(t *testing.T) {
	t.Parallel()
	read := 0
	for seed := range uint64(6) {
		rec, take := taken(t, synth.Scene{Rate: 44100, Seconds: 1.3, Seed: 60 + seed, Peak: 0.7, Noise: []synth.Noise{synth.White(15)}, Rotors: []synth.Rotor{{
			Pulses: 24, Profile: synth.ExponentialRamp(9, 24, 0.4, 0.33), Harmonics: []float64{0.6, 0.9, 0.7, 0.8, 0.5}, AngleSpread: 0.015, GainSpread: 0.1}}})
		track, err := tacho.Follow(rec, tacho.Options{Pulses: 24})
		if err != nil {
			t.Fatal(err)
		}
		off := gross(track, take)
		if len(track.Points) > 50 && off < 4 {
			read++
		} else {
			t.Logf("seed %d: %d points, %d off; %v", seed, len(track.Points), off, track.Reasons)
		}
	}
	if read < 3 {
		t.Errorf("%d of 6 recordings read rightly, want 3", read)
	}
}

// Knocks of one kind at a regular beat, as of a clock, are no rotor, however long they
// go on: so few a second have no pulse rate in the range.
func TestRegularKnocksAreNoRotor(t *testing.T) {
	const fs, seconds = 16000.0, 12.0
	for _, c := range []struct{ perSecond, decay float64 }{{2.6, 0.032}, {3.3, 0.026}, {5.4, 0.015}, {6.1, 0.036}} {
		t.Run(fmt.Sprintf("%g per second", c.perSecond), func(t *testing.T) {
			t.Parallel()
			src := synth.Source(uint64(1000 * c.perSecond))
			ring := make([]float64, int(6*c.decay*fs))
			for k, hz := range [...]float64{463, 1370, 1595} {
				for i := range ring {
					at := float64(i) / fs
					ring[i] += math.Exp(-at/c.decay) * math.Sin(2*math.Pi*hz*at) / float64(k+1)
				}
			}
			x := synth.WhiteNoise(src, 0.003, int(seconds*fs))
			for at := 0.1; at < seconds-1; at += 1 / c.perSecond {
				for i, v := range ring {
					x[int(at*fs)+i] += 0.4 * v
				}
			}
			rec, err := tacho.NewRecording("knocks", fs, x)
			if err != nil {
				t.Fatal(err)
			}
			track, err := tacho.Follow(rec, tacho.Options{})
			if err != nil {
				t.Fatal(err)
			}
			if track.Verdict != tacho.VerdictNoReading {
				t.Errorf("a reading of %.4g Hz", track.Top.Tone.X)
			}
		})
	}
}
