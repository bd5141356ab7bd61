package tacho_test

import (
	"fmt"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// A whole measurement: an invented recording of the whirligig at 18 turns a
// second, what it says, and how sure that is.
func ExampleMeasure() {
	scene := synth.Scene{
		Rate: 16000, Seconds: 3, Seed: 7,
		Rotors: []synth.Rotor{{Pulses: 5, Profile: synth.Steady(18)}},
		Noise:  []synth.Noise{{SNR: 15}},
	}
	take, err := scene.Make()
	if err != nil {
		fmt.Println(err)
		return
	}
	rec, err := tacho.NewRecording("whirligig", 16000, take.Samples...)
	if err != nil {
		fmt.Println(err)
		return
	}
	rotor := tacho.Rotor{Name: "whirligig", Pulses: 5, Radius: tacho.Measured(0.06, 0.0005, "m", "radius")}
	m, err := tacho.Measure(rec, rotor, tacho.Options{Motion: tacho.Steady})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(m.Verdict)
	fmt.Printf("%.2f rev/s, %.0f rpm\n", m.Speed.X, m.Derived.RPM.X)
	fmt.Println("tip speed", m.Derived.Tip.Between())
	// Output:
	// steady
	// 18.00 rev/s, 1080 rpm
	// tip speed 6.675 to 6.897 m/s
}

func ExampleCautions() {
	for _, c := range tacho.Cautions() {
		fmt.Println(c.Hazard)
	}
	fmt.Println(tacho.CautionNote)
	// Output:
	// bursting rotor
	// eyes
	// air jet
	// gas duster
	// noise
	// These are published cautions, not a judgement of your set-up. Local codes and licensed practice come first.
}

func ExampleValue_Between() {
	v := tacho.Measured(18, 0.02, "rev/s", "tone")
	fmt.Println(v.Rounded(), "from", v.Between())
	// Output: 18.000 rev/s from 17.961 to 18.039 rev/s
}
