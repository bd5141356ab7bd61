package exam

import (
	"math"
	"math/rand/v2"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// steadyClass asks for one speed: five harmonics in white noise, 1 s at 8 kHz,
// pulse rates of 60 to 400 Hz, the number of harmonics not told, the clock
// perfect.
func steadyClass(name string, span tacho.Range) Class {
	levels := []struct {
		name string
		snr  float64
	}{{"+20 dB", 20}, {"+5 dB", 5}, {"-5 dB", -5}, {"-15 dB", -15}, {"-22 dB", -22}}
	return Class{
		Name:  name,
		About: "five harmonics, 1 s at 8 kHz, white noise, 60 to 400 Hz, motion steady, range " + rangeText(span),
		Draws: 200 * len(levels), Short: 10 * len(levels),
		Draw: func(r *rand.Rand, i int) Case {
			level := levels[i%len(levels)]
			a := []float64{1, 1, 1, 1, 1}
			switch r.IntN(3) {
			case 0:
				a = amplitudes(r, 5)
			case 1:
				fall := between(r, 0, 1.2)
				for m := range a {
					a[m] = math.Pow(float64(m+1), -fall)
				}
			}
			return Case{
				Group: level.name, Bound: true,
				Options: tacho.Options{Range: span, Motion: tacho.Steady, ClockPPM: -1},
				Scene: synth.Scene{
					Rate: 8000, Seconds: 1,
					Rotors: []synth.Rotor{{Pulses: 1, Profile: synth.Steady(between(r, 60, 400)), Harmonics: a, RandomPhases: true, Level: 0.1}},
					Noise:  []synth.Noise{synth.White(level.snr)},
				},
			}
		},
	}
}
