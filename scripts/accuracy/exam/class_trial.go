package exam

import (
	"math"
	"math/rand/v2"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// trialClass: a hand-driven rotor, from rest to rest.
var trialClass = Class{
	Name:  "trial",
	About: "pushed from rest once or several times, overshoot, coast-down to rest, brake; noise at 5 to 25 dB, half of them in a room",
	Draws: 300, Short: 20,
	Draw: func(r *rand.Rand, i int) Case {
		k := Case{Scene: synth.Scene{Seconds: between(r, 6, 20)}}
		p := rotor(r)
		p.Growth = pick(r, 0.5, 1, 1, 1.5, 2)
		k.Group = [...]string{"one push", "pushes", "overshoot", "coast-down", "brake"}[i%5]
		p.Profile = trial(r, k.Group, k.Scene.Seconds)
		if k.Group != "coast-down" && chance(r, 0.3) {
			p.Jet = &synth.Jet{LevelDB: between(r, -12, -2), Depth: between(r, 0, 0.6), Slope: between(r, -4, 2), Low: 200}
		}
		if chance(r, 0.5) {
			k.Scene.Room = livingRoom(r)
		}
		k.Scene.Rate = recorder(r)
		top := spread(r, 80, topRate(k.Scene.Rate))
		p.Profile = faster(p.Profile, top/float64(p.Pulses))
		k.Scene.Rotors = []synth.Rotor{p}
		k.Scene.Noise = []synth.Noise{hiss(r, between(r, 5, 25))}
		k.Options = tacho.Options{Pulses: told(r, p), ClockPPM: -1}
		return k
	},
}

// trial draws a run whose highest speed is about 1 rev/s.
func trial(r *rand.Rand, kind string, seconds float64) synth.Profile {
	// left alone at full speed it would come to rest after about stop seconds
	stop := spread(r, 0.3, 2) * seconds
	share := [3]float64{r.Float64() + 0.2, r.Float64(), r.Float64()}
	sum := share[0] + share[1] + share[2]
	f := synth.Friction{Coulomb: share[0] / sum / stop, Viscous: share[1] / sum * 2 / stop, Quadratic: share[2] / sum * 3 / stop}
	push := func(start, top float64) synth.Push {
		long := between(r, 0.3, 2)
		return synth.Push{Start: start, Seconds: long, Accel: between(r, 1.3, 3) * top / long, Top: top * between(r, 1, 1.3), Rise: between(r, 0.03, 0.3)}
	}
	start := between(r, 0.3, 0.2*seconds)
	var p synth.Profile
	switch kind {
	case "coast-down":
		p = synth.CoastDown(1, f)
		p.Friction = quickened(f, seconds*between(r, 0.5, 0.95))
		return p
	case "pushes":
		p = synth.Trial(f)
		n := 2 + r.IntN(4)
		for j := range n {
			at := start + (seconds-start-1)*(float64(j)+between(r, 0, 0.6))/float64(n)
			p.Pushes = append(p.Pushes, push(at, between(r, 0.5, 1)))
		}
	case "overshoot":
		q := push(start, between(r, 0.8, 1))
		q.Seconds = between(r, 0.3, 0.6) * seconds
		q.Surge = between(r, 1, 6)
		q.Accel = between(r, 1, 4) / q.Seconds
		p = synth.Trial(f, q)
	default:
		p = synth.Trial(f, push(start, 1))
	}
	if kind == "brake" {
		p = p.Braked(synth.Brake{Start: seconds * between(r, 0.4, 0.8), Seconds: seconds, Decel: spread(r, 0.5, 4)})
	}
	return p
}

// quickened returns friction of the same kind that stops a rotor of 1 rev/s
// after the given time.
func quickened(f synth.Friction, seconds float64) synth.Friction {
	// dt = dv / friction(v), by the midpoint rule
	time := 0.0
	const n = 2000
	for i := range n {
		time += 1.0 / n / f.Decel((float64(i)+0.5)/n)
	}
	g := time / math.Max(seconds, 0.1)
	return synth.Friction{Coulomb: f.Coulomb * g, Viscous: f.Viscous * g, Quadratic: f.Quadratic * g}
}
