package synth_test

import (
	"testing"

	"rotorhum/tacho/synth"
)

// Each benchmark reports the time per sample, to be compared side by side.
func benchmark(b *testing.B, scene synth.Scene) {
	b.Helper()
	for b.Loop() {
		scene.Seed++
		if _, err := scene.Make(); err != nil {
			b.Fatal(err)
		}
	}
	samples := float64(scene.Rate) * scene.Seconds
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/samples, "ns/sample")
}

// One draw of a simulation: five harmonics, a second at 8 kHz, white noise.
func BenchmarkSteadyDraw(b *testing.B) {
	benchmark(b, synth.Scene{Rate: 8000, Seconds: 1, Noise: []synth.Noise{synth.White(5)},
		Rotors: []synth.Rotor{{Pulses: 1, Profile: synth.Steady(101.3), Harmonics: []float64{1, 1, 1, 1, 1}, RandomPhases: true}}})
}

// A trial at a phone's rate with unequal blades: some 60 lines.
func BenchmarkTrial(b *testing.B) {
	benchmark(b, synth.Scene{Rate: 44100, Seconds: 10, Noise: []synth.Noise{synth.Pink(20)},
		Rotors: []synth.Rotor{{Pulses: 5, GainSpread: 0.1, AngleSpread: 0.02, PulseWidth: 0.05, Growth: 2,
			Profile: synth.Trial(synth.Friction{Coulomb: 1}, synth.Push{Start: 1, Seconds: 2, Accel: 10, Top: 20})}}})
}

// The same in a gymnasium.
func BenchmarkTrialInGymnasium(b *testing.B) {
	benchmark(b, synth.Scene{Rate: 44100, Seconds: 10, Noise: []synth.Noise{synth.Pink(20)}, Room: &synth.Room{RT60: 2},
		Rotors: []synth.Rotor{{Pulses: 5, GainSpread: 0.1, AngleSpread: 0.02, PulseWidth: 0.05, Growth: 2,
			Profile: synth.Trial(synth.Friction{Coulomb: 1}, synth.Push{Start: 1, Seconds: 2, Accel: 10, Top: 20})}}})
}

func BenchmarkVoices(b *testing.B) {
	benchmark(b, synth.Scene{Rate: 16000, Seconds: 10, Voices: make([]synth.Voice, 3)})
}
