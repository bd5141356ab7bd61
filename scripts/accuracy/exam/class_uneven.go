package exam

import (
	"math/rand/v2"

	"rotorhum/tacho/synth"
)

// unevenClass: every pulse comes a little early or late, on its own, which is no change of
// speed.
var unevenClass = Class{
	Name:  "uneven",
	About: "pulses that come early or late by 0.1 to 1 % of their distance (rms), each on its own: a card that flaps, a loose blade; steady, ramps, wander and trials, 5 to 25 dB",
	Draws: 120, Short: 8,
	Draw: func(r *rand.Rand, i int) Case {
		k := Case{Scene: synth.Scene{Seconds: spread(r, 2, 15)}}
		p := rotor(r)
		p.Jitter = spread(r, 0.001, 0.01)
		switch i % 4 {
		case 0:
			k.Group = "steady"
			p.Profile = synth.Steady(1)
		case 1:
			k.Group = "ramp"
			p.Profile, k.Scene.Seconds = ramp(r, spread(r, 0.02, 1))
		case 2:
			k.Group = "wander"
			p.Profile = synth.Steady(1)
			p.Profile.Unsteady = synth.Unsteady{RMS: spread(r, 0.002, 0.04), Low: 0.2, High: spread(r, 1, 4)}
		default:
			k.Group = "trial"
			k.Scene.Seconds = between(r, 6, 15)
			p.Growth = pick(r, 0.5, 1, 1.5)
			p.Profile = trial(r, pick(r, "one push", "pushes", "overshoot", "coast-down", "brake"), k.Scene.Seconds)
		}
		place(r, &k, p, 5, 25)
		return k
	},
}
