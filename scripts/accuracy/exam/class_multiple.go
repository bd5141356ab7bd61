package exam

import (
	"math"
	"math/rand/v2"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// multipleClass: sounds whose loudest line is not the pulse rate.
var multipleClass = Class{
	Name:  "multiple",
	About: "which multiple: the loudest line is not the pulse rate, or something else is nearly in tune; steady and changing speed, 3 to 25 dB",
	Draws: 450, Short: 40,
	Draw: func(r *rand.Rand, i int) Case {
		k := Case{Scene: synth.Scene{Seconds: spread(r, 1.5, 10)}}
		p := rotor(r)
		p.Profile = anyMotion(r, k.Scene.Seconds)
		p.GainSpread, p.AngleSpread = 0, 0
		switch i % 10 {
		case 0:
			k.Group = "once per turn"
			p.Pulses = pick(r, 2, 3, 4, 5, 6, 7, 8, 12)
			p.OncePerTurn = between(r, 1.1, 4)
			if chance(r, 0.5) {
				p.GainSpread = between(r, 0, 0.2)
			}
		case 1:
			k.Group = "missing line"
			p.Harmonics = amplitudes(r, 4+r.IntN(8))
			p.Missing = []int{1}
		case 2:
			k.Group = "loud second"
			p.Harmonics = amplitudes(r, 3+r.IntN(8))
			p.Harmonics[1] = between(r, 2, 6)
		case 3:
			k.Group = "loud third"
			p.Harmonics = amplitudes(r, 4+r.IntN(8))
			p.Harmonics[2] = between(r, 2, 6)
		case 4:
			k.Group = "mismatch"
			p.Pulses = pick(r, 2, 3, 4, 5, 6, 7, 8, 12)
			p.GainSpread, p.AngleSpread = between(r, 0.15, 0.35), between(r, 0.01, 0.04)
		case 5:
			k.Group = "two rotors 5:4"
			k.Scene.Rotors = []synth.Rotor{neighbour(r, p, between(r, -9, -3))}
		case 6:
			k.Group = "two equal"
			k.Either = true
			q := neighbour(r, p, 0) // with the same sound, or the evidence would not be balanced
			q.Harmonics, q.PulseWidth, q.Waver = p.Harmonics, p.PulseWidth, p.Waver
			k.Scene.Rotors = []synth.Rotor{q}
		case 7:
			k.Group = "antiphase"
			k.Scene.Channels = []synth.Channel{{}, {Inverted: true, Gain: between(r, -1, 1)}}
		case 8:
			k.Group = "hum near"
			supply := pick(r, 50.0, 60.0) * (1 + 0.001*r.NormFloat64())
			k.Scene.Mains = []synth.Mains{{Hz: supply, LevelDB: between(r, -3, 6)}}
			k.Scene.Rate = recorder(r)
			rate := supply * float64(1+r.IntN(6)) * (1 + between(r, 0.01, 0.06)*pick(r, -1, 1.0))
			p.Profile = synth.Steady(rate / float64(p.Pulses))
			k.Scene.Rotors = []synth.Rotor{p}
			k.Scene.Noise = []synth.Noise{hiss(r, between(r, 3, 25))}
			k.Options = tacho.Options{Pulses: told(r, p), ClockPPM: -1}
			return k
		case 9: // hardly a rotor of z blades any more
			k.Group = "mismatch, extreme"
			p.Pulses = pick(r, 2, 3, 4, 5, 6, 7, 8, 12)
			p.GainSpread, p.AngleSpread = between(r, 0.35, 0.6), between(r, 0.04, 0.1)
		}
		place(r, &k, p, 3, 25)
		if len(k.Scene.Rotors) > 1 { // the neighbour follows at its own ratio
			k.Scene.Rotors[1].Profile = faster(k.Scene.Rotors[0].Profile, k.Scene.Rotors[1].Profile.Speed)
			// either rotor is described by the same number of pulses
			k.Options.Pulses = k.Scene.Rotors[0].Pulses
		}
		return k
	},
}

// neighbour draws a second rotor that turns at a simple ratio to p; its
// profile's speed is the ratio.
func neighbour(r *rand.Rand, p synth.Rotor, level float64) synth.Rotor {
	q := rotor(r)
	q.Pulses, q.Level, q.LevelDB = p.Pulses, 0, level
	q.GainSpread, q.AngleSpread, q.Growth = 0, 0, p.Growth
	ratio := pick(r, 5.0/4, 4.0/5, 4.0/3, 3.0/4, 6.0/5, 7.0/5) * (1 + 0.002*r.NormFloat64())
	q.Profile = synth.Steady(ratio)
	return q
}

// anyMotion draws a profile that never rests, of about 1 rev/s at the top.
func anyMotion(r *rand.Rand, seconds float64) synth.Profile {
	switch r.IntN(4) {
	case 0:
		from, to := 1.0, 1/spread(r, 1.1, 3)
		if chance(r, 0.5) {
			from, to = to, from
		}
		start := between(r, 0, 0.3) * seconds
		return synth.ExponentialRamp(from, to, start, (seconds-start)*between(r, 0.5, 1))
	case 1:
		return synth.Steady(1).Wobbling(synth.Wow{Rate: spread(r, 0.2, 3), Depth: spread(r, 0.003, 0.05), Phase: 2 * math.Pi * r.Float64()})
	}
	return synth.Steady(1)
}
