package tacho_test

import (
	"fmt"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// A whole measurement: the five-vane garden whirligig of the (invented) Gullwing
// Pier Science Club turns at a steady 13 rev/s. The sound is synthesised.
func Example() {
	take, err := synth.Scene{
		Rate: 22050, Seconds: 2, Seed: 4,
		Rotors: []synth.Rotor{{Pulses: 5, Profile: synth.Steady(13)}},
		Noise:  []synth.Noise{{SNR: 20}},
	}.Make()
	if err != nil {
		fmt.Println(err)
		return
	}
	rec, err := tacho.NewRecording("whirligig", 22050, take.Samples...)
	if err != nil {
		fmt.Println(err)
		return
	}
	radius, err := tacho.ParseValue("15cm±1mm")
	if err != nil {
		fmt.Println(err)
		return
	}
	rotor := tacho.Rotor{Name: "five-vane whirligig", Pulses: 5, Radius: radius.Named("radius")}
	m, err := tacho.Measure(rec, rotor, tacho.Options{Motion: tacho.Steady})
	if err != nil {
		fmt.Println(err)
		return
	}
	speed, ok := m.Top()
	if !ok {
		fmt.Println(m.Reasons)
		return
	}
	tip, err := rotor.TipSpeed(speed)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(m.Verdict)
	fmt.Printf("%.2f rev/s\n", speed.X)
	fmt.Println("the tips move at", tip)
	fmt.Println("what to measure better:", tip.Budget()[0].Name)
	// Output:
	// steady
	// 13.00 rev/s
	// the tips move at 12.252 ± 0.082 m/s
	// what to measure better: radius
}
