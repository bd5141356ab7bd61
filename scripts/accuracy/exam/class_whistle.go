package exam

import (
	"math/rand/v2"

	"rotorhum/tacho/synth"
)

// whistleClass: a stack of one line or two, as of a siren disc or of a wheel far away.
var whistleClass = Class{
	Name:  "whistle",
	About: "one line, or two, amid noise of any colour at 0 to 20 dB; one microphone, or two of which one may be inverted; steady, ramps and wow",
	Draws: 160, Short: 8,
	Draw: func(r *rand.Rand, i int) Case {
		k := Case{Scene: synth.Scene{Seconds: spread(r, 1.5, 10)}}
		p := rotor(r)
		p.PulseWidth, p.GainSpread, p.AngleSpread = 0, 0, 0
		k.Group, p.Harmonics = "one line", []float64{1}
		if i%2 == 1 {
			k.Group, p.Harmonics = "two lines", []float64{1, between(r, 0.1, 1)}
		}
		if i/2%2 == 1 {
			k.Group += ", two mics"
			k.Scene.Channels = []synth.Channel{{}, {Inverted: chance(r, 0.5), Gain: between(r, -6, 6), Delay: between(r, 0, 3e-4)}}
		}
		p.Profile = anyMotion(r, k.Scene.Seconds)
		place(r, &k, p, 0, 20)
		return k
	},
}
