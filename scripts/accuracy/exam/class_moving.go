package exam

import (
	"fmt"
	"math"
	"math/rand/v2"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// rampClass: the speed rises or falls by 1 to 300 % per second.
var rampClass = Class{
	Name:  "ramp",
	About: "speed rising or falling by 1 to 300 % per second where it is steepest, linear or by equal ratios, white or coloured noise at 0 to 25 dB",
	Draws: 420, Short: 28,
	Draw: func(r *rand.Rand, i int) Case {
		per := [...]float64{1, 3, 10, 30, 100, 300, 0}[i%7]
		k := Case{Group: fmt.Sprintf("%g %%/s", per), Bound: true}
		if per == 0 { // any slope, in a room
			k.Group, k.Bound = "echo", false
			per = spread(r, 1, 300)
			k.Scene.Room = livingRoom(r)
		}
		p := rotor(r)
		p.Profile, k.Scene.Seconds = ramp(r, per/100)
		place(r, &k, p, 0, 25)
		return k
	},
}

// ramp draws a run whose steepest part changes by rate of its speed per second,
// with a highest speed of 1 rev/s, possibly held before and after; place scales
// it.
func ramp(r *rand.Rand, rate float64) (synth.Profile, float64) {
	ratio, straight := spread(r, 1.3, 5), chance(r, 0.5)
	most := spread(r, 2, 20)
	// a straight line is steepest, relative to its speed, at its slow end
	long := math.Log(ratio) / rate
	if straight {
		long = (ratio - 1) / rate
	}
	if long > most {
		long, ratio = most, math.Exp(rate*most)
		if straight {
			ratio = 1 + rate*most
		}
	}
	before, after := 0.0, 0.0
	if chance(r, 0.6) {
		before = between(r, 0.2, 1.5)
	}
	if chance(r, 0.6) || before+long < 1.2 {
		after = between(r, 0.3, 1.5)
	}
	before = math.Max(before, 1.01-long-after)
	from, to := 1/ratio, 1.0
	if chance(r, 0.5) {
		from, to = to, from
	}
	if straight {
		return synth.Ramp(from, to, before, long), before + long + after
	}
	return synth.ExponentialRamp(from, to, before, long), before + long + after
}

// waverClass: the speed swings around its mean.
var waverClass = Class{
	Name:  "wow",
	About: "speed swinging by 0.2 to 8 %: wow at 0.3 to 2 Hz, flutter at 2 to 8 Hz, random wander",
	Draws: 240, Short: 16,
	Draw: func(r *rand.Rand, i int) Case {
		k := Case{Bound: true}
		p := rotor(r)
		p.Profile = synth.Steady(1)
		k.Scene.Seconds = spread(r, 2, 20)
		turn := 2 * math.Pi * r.Float64()
		switch i % 4 {
		case 0:
			k.Group = "wow"
			p.Profile = p.Profile.Wobbling(synth.Wow{Rate: spread(r, 0.3, 2), Depth: spread(r, 0.002, 0.08), Phase: turn})
		case 1:
			k.Group = "flutter"
			p.Profile = p.Profile.Wobbling(synth.Wow{Rate: spread(r, 2, 8), Depth: spread(r, 0.002, 0.03), Phase: turn})
		case 2:
			k.Group = "both"
			p.Profile = p.Profile.Wobbling(
				synth.Wow{Rate: spread(r, 0.3, 2), Depth: spread(r, 0.002, 0.05), Phase: turn},
				synth.Wow{Rate: spread(r, 2, 8), Depth: spread(r, 0.001, 0.02), Phase: 2 * math.Pi * r.Float64()})
		default:
			k.Group = "wander"
			p.Profile.Unsteady = synth.Unsteady{RMS: spread(r, 0.002, 0.04), Low: 0.2, High: spread(r, 1, 5)}
		}
		place(r, &k, p, 0, 25)
		return k
	},
}

// mainsClass: the pulse rate or one of its lines crosses the lines of the
// electric supply.
var mainsClass = Class{
	Name:  "mains",
	About: "speed crossing the lines of a 50 or 60 Hz supply whose hum is 10 dB below to 6 dB above the rotor",
	Draws: 120, Short: 12,
	Draw: func(r *rand.Rand, i int) Case {
		supply := pick(r, 50.0, 60.0) * (1 + 0.001*r.NormFloat64())
		across := supply * float64(1+r.IntN(4)) // the line that is crossed
		p := rotor(r)
		k := Case{Group: pick(r, "up", "down"), Scene: synth.Scene{Seconds: spread(r, 3, 15)}}
		reach := spread(r, 1.1, 2)
		a, b := across/reach, across*spread(r, 1.1, 2)
		if k.Group == "down" {
			a, b = b, a
		}
		a, b = a/float64(p.Pulses), b/float64(p.Pulses)
		hold := between(r, 0, 0.2) * k.Scene.Seconds
		p.Profile = synth.ExponentialRamp(a, b, hold, k.Scene.Seconds*between(r, 0.5, 0.8))
		k.Scene.Rate = recorder(r)
		k.Scene.Mains = []synth.Mains{{Hz: supply, LevelDB: between(r, -10, 6)}}
		k.Scene.Noise = []synth.Noise{hiss(r, between(r, 5, 25))}
		k.Scene.Rotors = []synth.Rotor{p}
		k.Options = tacho.Options{Pulses: told(r, p), ClockPPM: -1}
		return k
	},
}

// place completes a case around a rotor whose highest speed is about 1 rev/s:
// it draws the sampling rate and the pulse rate at the top, and the noise with a
// signal-to-noise ratio between lo and hi dB.
func place(r *rand.Rand, k *Case, p synth.Rotor, lo, hi float64) {
	k.Scene.Rate = recorder(r)
	rate := spread(r, 60, topRate(k.Scene.Rate))
	p.Profile = faster(p.Profile, rate/float64(p.Pulses))
	// the slowest part must stay within what the user asked for
	if low := slowest(p.Profile, k.Scene.Seconds) * float64(p.Pulses); low < 22 && p.Profile.Kind != synth.KindTrial {
		p.Profile = faster(p.Profile, 22/low)
	}
	k.Scene.Rotors = append([]synth.Rotor{p}, k.Scene.Rotors...)
	k.Scene.Noise = append(k.Scene.Noise, hiss(r, between(r, lo, hi)))
	k.Options.Pulses = told(r, p)
	if k.Options.ClockPPM == 0 {
		k.Options.ClockPPM = -1
	}
}

// faster returns the profile at by times the speed.
func faster(p synth.Profile, by float64) synth.Profile {
	p.Speed, p.From, p.To = p.Speed*by, p.From*by, p.To*by
	p.Pushes = append([]synth.Push(nil), p.Pushes...)
	for i := range p.Pushes {
		p.Pushes[i].Accel *= by
		p.Pushes[i].Top *= by
	}
	p.Brakes = append([]synth.Brake(nil), p.Brakes...)
	for i := range p.Brakes {
		p.Brakes[i].Decel *= by
	}
	p.Friction.Coulomb *= by
	p.Friction.Quadratic /= by
	return p
}

// slowest returns the lowest speed of a profile that never rests; 0 speeds are
// left out.
func slowest(p synth.Profile, seconds float64) float64 {
	curve, err := p.Curve(seconds, 0)
	if err != nil {
		return math.Inf(1)
	}
	low := math.Inf(1)
	for t := 0.0; t <= seconds; t += 0.02 {
		if v := curve(t); v > 0 {
			low = math.Min(low, v)
		}
	}
	return low
}

func rangeText(r tacho.Range) string { return fmt.Sprintf("%g:%g Hz", float64(r.Lo), float64(r.Hi)) }
