package exam

import (
	"math"
	"math/rand/v2"

	"rotorhum/tacho/synth"
)

// between draws evenly from lo to hi, spread evenly on a logarithmic scale.
func between(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
func spread(r *rand.Rand, lo, hi float64) float64 {
	return lo * math.Pow(hi/lo, r.Float64())
}

// chance is true with probability p.
func chance(r *rand.Rand, p float64) bool { return r.Float64() < p }

// pick draws one of the choices.
func pick[T any](r *rand.Rand, choices ...T) T { return choices[r.IntN(len(choices))] }

// recorder draws a sampling rate.
func recorder(r *rand.Rand) int {
	return pick(r, 8000, 11025, 16000, 22050, 32000, 44100, 44100, 48000, 48000)
}

// topRate is the highest pulse rate worth drawing at a sampling rate: three
// lines below half of it.
func topRate(fs int) float64 { return math.Min(1500, float64(fs)/7) }

// rotor draws the sound of a rotor, all but its speed: the shape of its pulses,
// how much its blades differ, how its loudness follows its speed.
func rotor(r *rand.Rand) synth.Rotor {
	p := synth.Rotor{
		Pulses:       pick(r, 1, 1, 2, 2, 3, 4, 5, 5, 6, 7, 8, 12, 20, 36),
		RandomPhases: true,
		Growth:       pick(r, 0, 0, 0.5, 1, 1.5, 2),
		Level:        0.1,
	}
	switch r.IntN(3) {
	case 0:
		p.PulseWidth = spread(r, 0.03, 0.2)
	case 1:
		p.Harmonics = amplitudes(r, 3+r.IntN(10))
	default:
		fall := between(r, 0.3, 2)
		n := 3 + r.IntN(12)
		for m := 1; m <= n; m++ {
			p.Harmonics = append(p.Harmonics, math.Pow(float64(m), -fall)*math.Exp(0.3*r.NormFloat64()))
		}
	}
	if p.Pulses > 1 && chance(r, 0.6) {
		p.GainSpread, p.AngleSpread = between(r, 0, 0.15), between(r, 0, 0.02)
	}
	if chance(r, 0.4) {
		p.Waver = between(r, 0.3, 2.5)
	}
	return p
}

// amplitudes draws n of them, none below a fifth of the largest possible.
func amplitudes(r *rand.Rand, n int) []float64 {
	a := make([]float64, n)
	for i := range a {
		a[i] = between(r, 0.2, 1)
	}
	return a
}

// told returns the pulses per turn that the user states: the number, if blades
// differ so that the turn itself can be heard; else often nothing.
func told(r *rand.Rand, p synth.Rotor) int {
	alike := p.GainSpread == 0 && p.AngleSpread == 0 && p.OncePerTurn == 0 && len(p.Lines) == 0
	if alike && chance(r, 0.5) {
		return 0
	}
	return p.Pulses
}

// hiss draws stationary noise of some colour.
func hiss(r *rand.Rand, snr float64) synth.Noise {
	switch r.IntN(4) {
	case 0:
		return synth.Pink(snr)
	case 1:
		return synth.Noise{SNR: snr, Slope: between(r, -5, 2)}
	}
	return synth.White(snr)
}

// livingRoom draws the echo of a room in a house.
func livingRoom(r *rand.Rand) *synth.Room {
	return &synth.Room{RT60: between(r, 0.2, 0.7), Direct: between(r, 3, 15)}
}
