package synth_test

import (
	"fmt"
	"strings"

	"rotorhum/tacho/synth"
)

// A five-vane whirligig gets two pushes; the truth says how fast it was.
func ExampleScene_Make() {
	scene := synth.Scene{
		Rate: 44100, Seconds: 6, Seed: 7, Peak: 0.5,
		Rotors: []synth.Rotor{{
			Name: "whirligig", Pulses: 5, TipRadius: 0.06, Growth: 2, GainSpread: 0.1,
			Profile: synth.Trial(synth.Friction{Coulomb: 0.3, Viscous: 0.05},
				synth.Push{Start: 0.5, Seconds: 1, Accel: 9, Top: 25},
				synth.Push{Start: 3, Seconds: 1, Accel: 12, Top: 25}),
		}},
		Room:  &synth.Room{RT60: 0.5, Direct: 6},
		Noise: []synth.Noise{synth.Pink(20)},
	}
	take, err := scene.Make()
	if err != nil {
		fmt.Println(err)
		return
	}
	t := take.Truth
	fmt.Printf("%d samples, %d pulses per turn\n", len(take.Samples[0]), t.Pulses)
	fmt.Printf("fastest: %.2f rev/s at %.2f s\n", t.PeakSpeed, t.PeakTime)
	fmt.Printf("at 2.5 s: %.2f rev/s, pulse rate %.1f Hz\n", t.Speed(2.5), t.PulseRate(2.5))
	// Output:
	// 264600 samples, 5 pulses per turn
	// fastest: 11.80 rev/s at 3.98 s
	// at 2.5 s: 5.90 rev/s, pulse rate 29.5 Hz
}

// A scene is a few lines of JSON.
func ExampleReadScene() {
	scene, err := synth.ReadScene(strings.NewReader(`{
	  "rate_hz": 8000, "seconds": 2, "seed": 1,
	  "rotors": [{"pulses_per_rev": 12,
	              "profile": {"kind": "steady", "rev_per_s": 24.6}}],
	  "noise": [{"snr_db": 10}]
	}`))
	if err != nil {
		fmt.Println(err)
		return
	}
	take, err := scene.Make()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f Hz\n", take.Truth.PulseRate(1))
	// Output:
	// 295.2 Hz
}

// A slip of the pen is pointed out, not ignored.
func ExampleReadScene_error() {
	_, err := synth.ReadScene(strings.NewReader(`{"rate_hz": 8000, "second": 2}`))
	fmt.Println(err)
	// Output:
	// scene: line 1: json: unknown field "second"
}

func ExampleCoastDown() {
	p := synth.CoastDown(12, synth.Friction{Coulomb: 0.5, Viscous: 0.1})
	speed, err := p.Curve(20, 0)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, t := range []float64{0, 5, 10, 15} {
		fmt.Printf("%2.0f s: %.2f rev/s\n", t, speed(t))
	}
	// Output:
	//  0 s: 12.00 rev/s
	//  5 s: 5.31 rev/s
	// 10 s: 1.25 rev/s
	// 15 s: 0.00 rev/s
}
