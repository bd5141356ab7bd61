package phase

import (
	"math"
	"sort"
	"testing"
	"time"

	"rotorhum/tacho/internal/sound"
	"rotorhum/tacho/synth"
)

func scenes() map[string]synth.Scene {
	fr := synth.Friction{Coulomb: 0.15, Viscous: 0.05, Quadratic: 0.004}
	trial := synth.Trial(fr, synth.Push{Start: 1, Seconds: 1.2, Accel: 9, Top: 16}, synth.Push{Start: 5, Seconds: 1, Accel: 9, Top: 18}, synth.Push{Start: 9, Seconds: 1.3, Accel: 10, Top: 20})
	return map[string]synth.Scene{
		"trial": {Rate: 48000, Seconds: 16, Seed: 3, Noise: []synth.Noise{synth.Pink(6)},
			Rotors: []synth.Rotor{{Pulses: 5, Profile: trial, GainSpread: 0.1, RandomPhases: true, Growth: 1}}},
		"ramp300": {Rate: 48000, Seconds: 4, Seed: 4, Noise: []synth.Noise{synth.White(5)},
			Rotors: []synth.Rotor{{Pulses: 1, Profile: synth.ExponentialRamp(40, 400, 1, 1), RandomPhases: true}}},
		"steady": {Rate: 48000, Seconds: 4, Seed: 4, Noise: []synth.Noise{synth.White(0)},
			Rotors: []synth.Rotor{{Pulses: 7, Profile: synth.Steady(25), RandomPhases: true}}},
	}
}

func TestExperimentFollow(t *testing.T) {
	for name, sc := range scenes() {
		take, err := sc.Make()
		if err != nil {
			t.Fatal(name, err)
		}
		x := take.Samples
		src, _ := sound.New(func(ch, start int, dst []float64) (int, error) { return copy(dst, x[ch][start:]), nil }, []int{0}, len(x[0]), float64(take.Rate), 15000)
		c := Course{}
		from := 0.1
		if name == "trial" {
			from = 2
		}
		i := 0
		for tt := from; tt < sc.Seconds; tt += 0.02 {
			c.T = append(c.T, tt)
			i++
			c.Rate = append(c.Rate, take.Truth.PulseRate(tt)*(1+0.002*math.Sin(float64(i)*0.3)))
		}
		t0 := time.Now()
		r, err := Follow(src, c, 0.003, Options{Harmonics: 16, Memory: 0.4})
		if err != nil {
			t.Fatal(err)
		}
		el := time.Since(t0)
		var e, z []float64
		in := 0
		for i, s := range r.Motion {
			f := take.Truth.PulseRate(r.Blocks[i].T)
			d := s.Omega/(2*math.Pi) - f
			e = append(e, math.Abs(d/f))
			zz := math.Abs(d) / (math.Sqrt(s.OmegaVar) / (2 * math.Pi))
			z = append(z, zz)
			if zz < 1.96 {
				in++
			}
		}
		sort.Float64s(e)
		sort.Float64s(z)
		n := len(e)
		t.Logf("%s: %v, %d blocks, rel err median %.2e 90%% %.2e max %.2e; z median %.2f 95%% %.2f in %.3f; q %.3g infl %.2f like %.1f steady %.1f lines %.1f", name, el, n, e[n/2], e[n*9/10], e[n-1], z[n/2], z[n*95/100], float64(in)/float64(n), r.Q, r.Inflation, r.Like, r.LikeSteady, r.Lines)
	}
}
