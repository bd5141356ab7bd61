package exam

import (
	"math/rand/v2"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// coverageClass: whether 95 % intervals hold the truth in 95 of 100, over
// recordings of every kind, with a recorder whose clock is off as its stated
// uncertainty says.
var coverageClass = Class{
	Name:  "coverage",
	About: "all kinds of motion, a third in a room, a quarter with interference, SNR -5 to 30 dB; for the intervals",
	Draws: 2400, Short: 40,
	Draw: func(r *rand.Rand, i int) Case {
		k := Case{Scene: synth.Scene{Seconds: spread(r, 1, 20)}}
		s := &k.Scene
		p := rotor(r)
		switch i % 4 {
		case 0, 1:
			k.Group = "steady"
			p.Profile = synth.Steady(1)
		case 2:
			k.Group = "moving"
			if chance(r, 0.5) {
				p.Profile, s.Seconds = ramp(r, spread(r, 0.01, 3))
			} else {
				p.Profile = synth.Steady(1)
				p.Profile.Unsteady = synth.Unsteady{RMS: spread(r, 0.002, 0.05), High: spread(r, 1, 4)}
			}
		default:
			k.Group = "trial"
			s.Seconds = between(r, 6, 20)
			p.Growth = pick(r, 0.5, 1, 1.5)
			p.Profile = trial(r, pick(r, "one push", "pushes", "overshoot", "coast-down", "brake"), s.Seconds)
		}
		k.Bound = true
		switch r.IntN(12) {
		case 0, 1, 2, 3:
			s.Room = livingRoom(r)
			k.Group += ", echo"
			k.Bound = false
		case 4:
			s.Mains = []synth.Mains{{Hz: pick(r, 50.0, 60.0) * (1 + 0.001*r.NormFloat64()), LevelDB: between(r, -15, 0)}}
		case 5:
			s.Voices = []synth.Voice{{LevelDB: between(r, -15, -3)}}
		case 6:
			if i%4 == 3 {
				break // what else turns while the rotor rests would be heard, and rightly
			}
			q := rotor(r)
			q.Level, q.LevelDB = 0, between(r, -20, -6)
			q.Profile = synth.Steady(spread(r, 40, 600) / float64(q.Pulses))
			s.Rotors = []synth.Rotor{q}
		}
		if len(s.Mains)+len(s.Voices)+len(s.Rotors) > 0 {
			k.Group += ", company"
			k.Bound = false
		}
		if chance(r, 0.5) { // a recorder that nobody has checked
			s.ClockPPM = tacho.DefaultClockPPM * r.NormFloat64()
			k.Options.ClockPPM = tacho.DefaultClockPPM
		}
		lo := -5.0
		if i%4 == 3 {
			lo = 5
			s.Rate = recorder(r)
			k.Options.Pulses = p.Pulses
			p.Profile = faster(p.Profile, spread(r, 80, topRate(s.Rate))/float64(p.Pulses))
			s.Rotors = append([]synth.Rotor{p}, s.Rotors...)
			s.Noise = []synth.Noise{hiss(r, between(r, lo, 30))}
			if k.Options.ClockPPM == 0 {
				k.Options.ClockPPM = -1
			}
			return k
		}
		place(r, &k, p, lo, 30)
		return k
	},
}
