package path

import (
	"math"
	"testing"
	"time"

	"rotorhum/tacho/internal/comb"
	"rotorhum/tacho/internal/sound"
	"rotorhum/tacho/synth"
)

func scenes() map[string]synth.Scene {
	fr := synth.Friction{Coulomb: 0.15, Viscous: 0.05, Quadratic: 0.004}
	trial := synth.Trial(fr, synth.Push{Start: 1, Seconds: 1.2, Accel: 9, Top: 16}, synth.Push{Start: 5, Seconds: 1, Accel: 9, Top: 18}, synth.Push{Start: 9, Seconds: 1.3, Accel: 10, Top: 20})
	return map[string]synth.Scene{
		"trial": {Rate: 48000, Seconds: 20, Seed: 3, Noise: []synth.Noise{synth.Pink(6)},
			Rotors: []synth.Rotor{{Pulses: 5, Profile: trial, GainSpread: 0.1, RandomPhases: true, Growth: 1}}},
		"ramp300": {Rate: 48000, Seconds: 4, Seed: 4, Noise: []synth.Noise{synth.White(5)},
			Rotors: []synth.Rotor{{Pulses: 1, Profile: synth.ExponentialRamp(40, 400, 1, 1), RandomPhases: true}}},
		"steady": {Rate: 48000, Seconds: 4, Seed: 4, Noise: []synth.Noise{synth.White(0)},
			Rotors: []synth.Rotor{{Pulses: 7, Profile: synth.Steady(25), RandomPhases: true}}},
		"noise": {Rate: 48000, Seconds: 10, Seed: 4, Noise: []synth.Noise{synth.Pink(0)}},
	}
}

func TestExperimentPath(t *testing.T) {
	for name, sc := range scenes() {
		take, err := sc.Make()
		if err != nil {
			t.Fatal(name, err)
		}
		x := take.Samples
		t0 := time.Now()
		src, _ := sound.New(func(ch, start int, dst []float64) (int, error) { return copy(dst, x[ch][start:]), nil }, []int{0}, len(x[0]), float64(take.Rate), 15000)
		fr, err := comb.Analyse(src, comb.FrameOptions{Lo: 20, Hi: 6000, Hop: 0.02, Harmonics: 12, Keep: 24})
		if err != nil {
			t.Fatal(err)
		}
		t1 := time.Now()
		cs := Find(fr, Usual(0.02))
		t.Logf("%s: analyse %v path %v, %d courses", name, t1.Sub(t0), time.Since(t1), len(cs))
		for _, c := range cs {
			bad, sq := 0, 0.0
			for _, s := range c.Steps {
				tt := float64(s.Moment) * 0.02
				f := 0.0
				if take.Truth.Sounding != nil {
					f = take.Truth.PulseRate(tt)
				}
				e := s.State.Rate/f - 1
				if math.Abs(e) > 0.03 {
					bad++
				} else {
					sq += e * e
				}
			}
			t.Logf("   %.2f..%.2f s  n %d ev %.0f  gross %d rms %.4f  first %.1f last %.1f", float64(c.Steps[0].Moment)*.02, float64(c.Steps[len(c.Steps)-1].Moment)*.02, len(c.Steps), c.Evidence, bad, math.Sqrt(sq/float64(len(c.Steps))), c.Steps[0].State.Rate, c.Steps[len(c.Steps)-1].State.Rate)
		}
	}
}
