package exam

import (
	"math"
	"math/rand/v2"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// silentClass: nothing spins.
var silentClass = Class{
	Name:  "no-rotor",
	About: "noise of any colour, a talker, several, tunes, 50 and 60 Hz hum, knocks, near silence, digital zeros, mixtures; a reading is false",
	Draws: 500, Short: 50,
	Draw: func(r *rand.Rand, i int) Case {
		k := Case{Silent: true, Scene: synth.Scene{Rate: recorder(r), Seconds: spread(r, 1, 20)}}
		s := &k.Scene
		switch i % 10 {
		case 0:
			k.Group = "noise"
			s.Noise = []synth.Noise{colour(r, s.Rate)}
		case 1:
			k.Group = "noise"
			s.Noise = []synth.Noise{colour(r, s.Rate)}
			s.Noise[0].Gust, s.Noise[0].GustRate = between(r, 1, 8), spread(r, 0.1, 4)
			if chance(r, 0.5) {
				s.Channels = make([]synth.Channel, 2)
			}
		case 2:
			k.Group = "talker"
			talk(r, s, 1)
		case 3:
			k.Group = "voices"
			talk(r, s, 2+r.IntN(5))
		case 4:
			k.Group = "music"
			play(r, s)
		case 5:
			k.Group = "hum 50"
			hum(r, s, 50)
		case 6:
			k.Group = "hum 60"
			hum(r, s, 60)
		case 7:
			k.Group = "clicks"
			s.Clicks = []synth.Clicks{{PerSecond: spread(r, 0.5, 15), LevelDB: between(r, 5, 25)}}
			s.Noise = []synth.Noise{hiss(r, between(r, 5, 40))}
			if chance(r, 0.5) {
				s.Room = livingRoom(r)
			}
		case 8:
			if chance(r, 0.3) {
				k.Group = "zeros"
				break
			}
			k.Group = "near silence" // the last bits of a good recorder
			s.Noise = []synth.Noise{colour(r, s.Rate)}
			s.Noise[0].SNR = between(r, 50, 75)
			s.Bits = 16
		default:
			k.Group = "mixture"
			talk(r, s, 1)
			if chance(r, 0.5) {
				play(r, s)
			}
			if chance(r, 0.5) {
				s.Mains = []synth.Mains{{Hz: pick(r, 50.0, 60), LevelDB: between(r, -15, 5)}}
			}
			s.Clicks = []synth.Clicks{{PerSecond: between(r, 0, 2), LevelDB: between(r, 0, 20)}}
			s.Noise = []synth.Noise{colour(r, s.Rate)}
			s.Noise[0].SNR = between(r, 0, 30)
			if chance(r, 0.3) {
				s.GainControl = &synth.GainControl{Strength: between(r, 0.3, 1)}
			}
		}
		k.Options = tacho.Options{Pulses: pick(r, 0, 0, 1, 2, 3, 5, 7, 12)}
		if chance(r, 0.3) {
			lo := spread(r, 15, 100)
			k.Options.Range = tacho.Range{Lo: tacho.Hertz(lo), Hi: tacho.Hertz(lo * spread(r, 5, 30))}
		}
		return k
	},
}

// colour draws noise of any colour, whole or part of the band.
func colour(r *rand.Rand, fs int) synth.Noise {
	v := synth.Noise{Slope: between(r, -9, 6)}
	if chance(r, 0.3) {
		v.Low = spread(r, 20, 1000)
		v.High = math.Min(v.Low*spread(r, 3, 30), 0.45*float64(fs))
	}
	return v
}

func talk(r *rand.Rand, s *synth.Scene, n int) {
	for range n {
		s.Voices = append(s.Voices, synth.Voice{LevelDB: between(r, -3, 3), Pitch: spread(r, 85, 280)})
	}
	s.Noise = []synth.Noise{hiss(r, between(r, 10, 45))}
	if chance(r, 0.5) {
		s.Room = livingRoom(r)
	}
}

func play(r *rand.Rand, s *synth.Scene) {
	m := synth.Music{Parts: 1 + r.IntN(4), Tempo: between(r, 50, 180), Low: spread(r, 60, 250), Plucked: chance(r, 0.5)}
	for h := range 1 + r.IntN(10) {
		m.Harmonics = append(m.Harmonics, math.Pow(float64(h+1), -between(r, 0.3, 2)))
	}
	s.Music = append(s.Music, m)
	// a recording of one held note is a steady tone and no tune
	s.Seconds = math.Max(s.Seconds, 8*60/m.Tempo)
	s.Noise = []synth.Noise{hiss(r, between(r, 10, 45))}
	if chance(r, 0.5) {
		s.Room = livingRoom(r)
	}
}

func hum(r *rand.Rand, s *synth.Scene, hz float64) {
	m := synth.Mains{Hz: hz * (1 + 0.001*r.NormFloat64()), Electronic: chance(r, 0.5)}
	if chance(r, 0.6) {
		for h := range 1 + r.IntN(20) {
			m.Harmonics = append(m.Harmonics, math.Pow(float64(h+1), -between(r, 0, 1.5))*between(r, 0.05, 1))
		}
	}
	s.Mains = []synth.Mains{m}
	s.Noise = []synth.Noise{hiss(r, between(r, 0, 40))}
	if chance(r, 0.3) {
		s.Clip = between(r, 0.01, 0.2)
	}
}
