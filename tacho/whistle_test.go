package tacho_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// A whistle is one line. It is followed as it sways, also where the noise is not white, as
// that of air and of rooms never is, and in two channels, one of which may be inverted,
// no worse than in one.
func TestAWhistleIsOneLine(t *testing.T) {
	colours := []func(snr float64) synth.Noise{synth.White, synth.Pink, synth.Brown}
	mics := [][]synth.Channel{nil, {{}, {}}, {{}, {Inverted: true}}}
	for i, rate := range []float64{63, 78, 98, 115, 149, 190, 240, 420, 900, 1900} {
		noise, channels := colours[i%len(colours)], mics[i/len(colours)%len(mics)]
		t.Run(fmt.Sprintf("%g Hz", rate), func(t *testing.T) {
			rec, truth := taken(t, synth.Scene{Rate: 16000, Seconds: 4, Seed: uint64(i) + 90, Peak: 0.8,
				Rotors: []synth.Rotor{{Pulses: 1, Profile: synth.Steady(rate).Wobbling(synth.Wow{Rate: 0.3, Depth: 0.02}), Harmonics: []float64{1}}},
				Noise:  []synth.Noise{noise(3)}, Channels: channels})
			track, err := tacho.Follow(rec, tacho.Options{ClockPPM: -1})
			if err != nil {
				t.Fatal(err)
			}
			if len(track.Points) < 190 {
				t.Fatalf("%d points of 200: %v", len(track.Points), track.Reasons)
			}
			for _, p := range track.Points {
				if f := truth.Truth.PulseRate(p.T); math.Abs(float64(p.Tone)/f-1) > 0.03 {
					t.Fatalf("%.2f Hz at %.2f s, want %.2f", p.Tone, p.T, f)
				}
			}
		})
	}
}

// Frames of faint lines may show the louder ones only, of a multiple of the rate. The whole
// recording at once tells the others as well, and where it does so more surely than the frames
// the contrary, it has the word.
func TestTheWholeTellsMoreOfFaintLines(t *testing.T) {
	for seed := range uint64(40) {
		rate := 100 + 5*float64(seed)
		rec, _ := taken(t, synth.Scene{Rate: 8000, Seconds: 1, Seed: seed + 7, Peak: 0.5,
			Rotors: []synth.Rotor{{Pulses: 1, Profile: synth.Steady(rate), Harmonics: []float64{0.37, 0.94, 0.22, 0.83, 0.38}, RandomPhases: true}},
			Noise:  []synth.Noise{synth.White(-14)}})
		track, err := tacho.Follow(rec, tacho.Options{Motion: tacho.Steady, Range: tacho.Range{Lo: 20, Hi: 6000}, ClockPPM: -1})
		if err != nil {
			t.Fatal(err)
		}
		if track.Steady == nil || math.Abs(track.Steady.Tone.X/rate-1) > 0.001 {
			t.Errorf("%g Hz: %v %v %v", rate, track.Verdict, track.Steady, track.Reasons)
		}
	}
}

// What a room does to the phase of a lone line no other contradicts, but its level comes and
// goes as much: by that the intervals are wider in a room, and hold, and are not where there is
// none.
func TestARoomIsHeardInTheLevelOfALoneLine(t *testing.T) {
	held, all := map[bool]float64{}, map[bool]float64{}
	width := map[bool][]float64{}
	for seed := range uint64(8) {
		for _, room := range []bool{false, true} {
			rate := 150 * math.Exp2(float64(seed)/3)
			scene := synth.Scene{Rate: 16000, Seconds: 7, Seed: seed + 80, Peak: 0.8,
				Rotors: []synth.Rotor{{Pulses: 1, Profile: synth.ExponentialRamp(rate/1.8, rate, 0.5, 6), Harmonics: []float64{1}, Growth: 1}},
				Noise:  []synth.Noise{synth.Pink(20)}}
			if room {
				scene.Room = &synth.Room{RT60: 0.3 + 0.05*float64(seed), Direct: 6}
			}
			rec, truth := taken(t, scene)
			track, err := tacho.Follow(rec, tacho.Options{ClockPPM: -1})
			if err != nil {
				t.Fatal(err)
			}
			for _, p := range track.Points {
				f := truth.Truth.PulseRate(p.T)
				if all[room]++; float64(p.Lo95) <= f && f <= float64(p.Hi95) {
					held[room]++
				}
				width[room] = append(width[room], float64(p.Hi95/p.Lo95)-1)
			}
		}
	}
	for _, room := range []bool{false, true} {
		if part := held[room] / all[room]; part < 0.8 || all[room] < 2600 {
			t.Errorf("in a room %v: %.0f %% of the intervals of %g points hold, want 95 of 2800", room, 100*part, all[room])
		}
		slices.Sort(width[room])
	}
	dry, wet := width[false][len(width[false])/2], width[true][len(width[true])/2]
	if !(dry < wet/3) {
		t.Errorf("intervals of %.3f %% without a room and of %.3f %% in one, want less than a third", 100*dry, 100*wet)
	}
}
