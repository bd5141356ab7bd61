package tacho_test

import (
	"fmt"

	"rotorhum/tacho"
)

// whirligig is the garden whirligig of the invented Gullwing Pier Science Club:
// five vanes, 6 cm from the axis to the tip, measured with a ruler.
func whirligig() tacho.Rotor {
	return tacho.Rotor{Name: "whirligig", Pulses: 5, Radius: tacho.Measured(0.06, 0.0005, "m", "radius")}
}

func ExampleRotor_Speed() {
	tone := tacho.Measured(90, 0.1, "Hz", "tone")
	speed, err := whirligig().Speed(tone)
	fmt.Println(speed, err)
	// Output: 18.000 ± 0.020 rev/s <nil>
}

func ExampleRotor_RPM() {
	rpm, err := whirligig().RPM(tacho.Exact(90, "Hz"))
	fmt.Println(rpm, err)
	// Output: 1080 rpm <nil>
}

func ExampleRotor_AngularSpeed() {
	w, err := whirligig().AngularSpeed(tacho.Measured(18, 0.02, "rev/s", "tone"))
	fmt.Println(w, err)
	// Output: 113.10 ± 0.13 rad/s <nil>
}

func ExampleRotor_Tone() {
	f, err := whirligig().Tone(tacho.Exact(1080, "rpm"))
	fmt.Println(f.Rounded(), err)
	// Output: 90 Hz <nil>
}

func ExampleRotor_TipSpeed() {
	v, err := whirligig().TipSpeed(tacho.Measured(90, 0.1, "Hz", "tone"))
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, unit := range []string{"m/s", "km/h", "mile/h"} {
		u, _ := v.To(unit)
		fmt.Println(u)
	}
	// Output:
	// 6.786 ± 0.057 m/s
	// 24.43 ± 0.21 km/h
	// 15.18 ± 0.13 mile/h
}

func ExampleRotor_Acceleration() {
	a, err := whirligig().Acceleration(tacho.Measured(90, 0.1, "Hz", "tone"))
	fmt.Println(a, err)
	// Output: 767.5 ± 6.6 m/s² <nil>
}

// The grindstone of OpenStax College Physics, section 6.2: 7.50 cm at 6500
// rev/min bear 3.55e3 g (the book divides by 9.80 m/s²).
func ExampleRotor_GLoad() {
	stone := tacho.Rotor{Pulses: 1, Radius: tacho.Exact(0.075, "m")}
	g, err := stone.GLoad(tacho.Measured(6500, 10, "rpm", "speed"))
	fmt.Println(g, err)
	// Output: 3543 ± 11 g <nil>
}

// The seven-blade fan of a fan maker's tutorial, whose pulse tone is 280 Hz:
// the line at 960 Hz repeats 24 times in a turn and is no blade line.
func ExampleRotor_BladeLine() {
	fan := tacho.Rotor{Pulses: 7}
	tone := tacho.Exact(280, "Hz")
	for _, f := range []float64{560, 840, 960} {
		line := tacho.Exact(f, "Hz")
		order, _ := fan.Order(line, tone)
		m, ok, _ := fan.BladeLine(line, tone)
		fmt.Printf("%g Hz is order %.0f; of the blades: %t", f, order.X, ok)
		if ok {
			fmt.Printf(", harmonic %d", m)
		}
		fmt.Println()
	}
	// Output:
	// 560 Hz is order 14; of the blades: true, harmonic 2
	// 840 Hz is order 21; of the blades: true, harmonic 3
	// 960 Hz is order 24; of the blades: false
}

func ExampleRotor_RingStress() {
	hoop := tacho.Rotor{Pulses: 1, Radius: tacho.Measured(0.31, 0.001, "m", "radius")}
	s, err := hoop.RingStress(tacho.Exact(4, "rev/s"), tacho.Exact(7850, "kg/m³"))
	if err != nil {
		fmt.Println(err)
		return
	}
	kPa, _ := s.To("kPa")
	fmt.Println(kPa)
	// Output: 476.5 ± 3.1 kPa
}

func ExampleSpeedOfSound() {
	c, err := tacho.SpeedOfSound(tacho.Measured(20, 2, "°C", "air"))
	fmt.Println(c, err)
	// Output: 343.2 ± 1.2 m/s <nil>
}

func ExampleRotor_TipMach() {
	mach, err := whirligig().TipMach(tacho.Exact(18, "rev/s"), tacho.Exact(20, "°C"))
	fmt.Println(mach, err)
	// Output: 0.01977 ± 0.00016 <nil>
}

// The whirligig rides past on the handlebar of a bicycle.
func ExamplePassBy() {
	c, err := tacho.SpeedOfSound(tacho.Measured(20, 2, "°C", "air"))
	if err != nil {
		fmt.Println(err)
		return
	}
	coming, going := tacho.Measured(91.6, 0.1, "Hz", "coming"), tacho.Measured(88.5, 0.1, "Hz", "going")
	v, tone, err := tacho.PassBy(coming, going, c)
	fmt.Println(v, err)
	fmt.Println(tone)
	// Output:
	// 5.91 ± 0.27 m/s <nil>
	// 90.023 ± 0.071 Hz
}

func ExampleDoppler() {
	// a microphone carried towards the whirligig at walking pace
	heard, err := tacho.Doppler(tacho.Exact(90, "Hz"), tacho.Exact(0, "m/s"), tacho.Exact(1.5, "m/s"), tacho.Exact(343.2, "m/s"))
	fmt.Printf("%.3f %v\n", heard.X, err)
	// Output: 90.393 <nil>
}

func ExampleHertz_Note() {
	name, cents := tacho.Hertz(295.2).Note() // the siren disc: 12 holes, 24.6 rev/s
	fmt.Printf("%s %+.0f cents\n", name, cents)
	// Output: D4 +9 cents
}

func ExampleClockError() {
	// a time signal of 500 Hz, as a recorder shows it
	e, err := tacho.ClockError(tacho.Measured(499.981, 0.0005, "Hz", "noise"), tacho.Exact(500, "Hz"))
	fmt.Println(e, err)
	// Output: 38.0 ± 1.0 ppm <nil>
}

func ExampleNoiseLimit_Dose() {
	percent, err := tacho.NIOSHLimit.Dose(tacho.Exposure{Level: 94, Time: 1800}, tacho.Exposure{Level: 85, Time: 7200})
	fmt.Printf("%.0f %% of a day %v\n", percent, err)
	// Output: 75 % of a day <nil>
}
