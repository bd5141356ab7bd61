package exam

import (
	"math/rand/v2"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// hostileClass: a rotor amid loud company, in front of a bad recorder.
var hostileClass = Class{
	Name:  "hostile",
	About: "hum at +12 dB, talker at +4 dB, second rotor at -3 dB, gymnasium, clipping 20 %, dropouts, gain pumping, speech codec, 150 Hz high-pass with 25 Hz pulse rate",
	Draws: 450, Short: 36,
	Draw: func(r *rand.Rand, i int) Case {
		k := Case{Scene: synth.Scene{Seconds: spread(r, 3, 15)}}
		p := rotor(r)
		p.Profile = anyMotion(r, k.Scene.Seconds)
		s := &k.Scene
		switch i % 9 {
		case 0:
			k.Group = "hum +12"
			s.Mains = []synth.Mains{{Hz: pick(r, 50.0, 60.0) * (1 + 0.001*r.NormFloat64()), LevelDB: 12, Electronic: chance(r, 0.5)}}
		case 1:
			k.Group = "talker +4"
			s.Voices = []synth.Voice{{LevelDB: 4}}
			s.Seconds = between(r, 5, 15)
		case 2:
			k.Group = "rotor -3"
			q := rotor(r)
			q.Level, q.LevelDB = 0, -3
			q.Profile = faster(anyMotion(r, s.Seconds), spread(r, 40, 600)/float64(q.Pulses))
			s.Rotors = []synth.Rotor{q}
		case 3:
			k.Group = "gymnasium"
			s.Room = &synth.Room{RT60: 2, Direct: between(r, -3, 6), Gap: between(r, 0.003, 0.02)}
			if chance(r, 0.5) {
				p.Growth = pick(r, 0.5, 1, 1.5)
				p.Profile = trial(r, pick(r, "one push", "pushes", "coast-down"), s.Seconds)
			}
		case 4:
			k.Group = "clipping 20 %"
			s.Clip = 0.2
		case 5:
			k.Group = "dropouts"
			s.Dropouts = &synth.Dropouts{PerSecond: spread(r, 0.3, 4), Seconds: spread(r, 0.01, 0.2), Hold: chance(r, 0.3)}
		case 6:
			k.Group = "gain pumping"
			s.GainControl = &synth.GainControl{Strength: between(r, 0.6, 1), Attack: spread(r, 0.005, 0.05), Release: spread(r, 0.05, 1)}
			s.Clicks = []synth.Clicks{{PerSecond: between(r, 0.5, 3), LevelDB: between(r, 15, 25)}}
		case 7:
			k.Group = "speech codec"
			s.Codec = &synth.Codec{Low: pick(r, 0.0, 50, 200, 300), High: pick(r, 3400.0, 3800, 7000, 8000), Companded: chance(r, 0.7)}
			s.Rate = pick(r, 22050, 44100, 48000)
		case 8:
			k.Group = "high-pass 150"
			s.Microphone = &synth.Microphone{HighPass: 150, Order: 2 + r.IntN(3)}
			p.Harmonics = nil
			p.PulseWidth = spread(r, 0.02, 0.06)
			p.Profile = synth.Steady(1)
			s.Rate = recorder(r)
			p.Profile = faster(anyMotion(r, s.Seconds), 1)
			p.Profile = faster(p.Profile, 25/float64(p.Pulses)/middle(p.Profile, s.Seconds))
			s.Rotors = []synth.Rotor{p}
			s.Noise = []synth.Noise{hiss(r, between(r, 10, 30))}
			k.Options = tacho.Options{Pulses: told(r, p), ClockPPM: -1, Range: tacho.Range{Lo: 8, Hi: 800}}
			return k
		}
		rate := s.Rate
		place(r, &k, p, 8, 25)
		if rate != 0 {
			s.Rate = rate
		}
		if k.Group == "rotor -3" && chance(r, 0.5) { // one who knows which of the two is meant
			top := s.Rotors[0].Profile
			mid := middle(top, s.Seconds) * float64(p.Pulses)
			k.Options.Range = tacho.Range{Lo: tacho.Hertz(mid / spread(r, 1.8, 4)), Hi: tacho.Hertz(mid * spread(r, 1.8, 4))}
		}
		return k
	},
}

// middle returns the mean of a profile.
func middle(p synth.Profile, seconds float64) float64 {
	curve, err := p.Curve(seconds, 0)
	if err != nil {
		return 1
	}
	sum := 0.0
	const n = 500
	for i := range n {
		sum += curve(seconds * (float64(i) + 0.5) / n)
	}
	return sum / n
}
