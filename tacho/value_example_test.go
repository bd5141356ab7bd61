package tacho_test

import (
	"fmt"
	"math"

	"rotorhum/tacho"
)

// From a tone to the speed of a tip, with every uncertainty on board.
func ExampleValue() {
	tone := tacho.Measured(187.5, 0.4, "Hz", "tone")
	radius := tacho.Within(0.04, 0.0005, "m", "radius") // read to the nearest millimetre
	turns := tone.Scale(1.0/3, "rev/s")                 // three lobes
	tip := turns.Mul(radius).Scale(2*math.Pi, "m/s")
	fmt.Println(turns)
	fmt.Println(tip)
	lo, hi := tip.CI95()
	fmt.Printf("95 %%: %.2f to %.2f m/s\n", lo, hi)
	for _, share := range tip.Budget() {
		fmt.Printf("%s %.0f %%\n", share.Name, 100*share.Fraction)
	}
	// Output:
	// 62.50 ± 0.13 rev/s
	// 15.71 ± 0.12 m/s
	// 95 %: 15.48 to 15.94 m/s
	// radius 92 %
	// tone 8 %
}

func ExampleValue_To() {
	v := tacho.Measured(15.71, 0.12, "m/s", "tip")
	for _, unit := range []string{"km/h", "mile/h", "ft/s", "kn"} {
		w, err := v.To(unit)
		fmt.Println(w, err)
	}
	_, err := tacho.Exact(187.5, "Hz").To("rev/s")
	fmt.Println(err)
	// Output:
	// 56.56 ± 0.43 km/h <nil>
	// 35.14 ± 0.27 mile/h <nil>
	// 51.54 ± 0.39 ft/s <nil>
	// 30.54 ± 0.23 kn <nil>
	// unit does not fit: cannot convert "Hz" to "rev/s"; only a Rotor leads from a tone to a shaft speed
}

func ExampleParseValue() {
	for _, text := range []string{"6cm±0.5mm", "60mm±1%", "2.5 in", "6,5 cm"} {
		v, err := tacho.ParseValue(text)
		if err != nil {
			fmt.Println(err)
			continue
		}
		fmt.Println(v)
	}
	// Output:
	// 0.06000 ± 0.00050 m
	// 0.06000 ± 0.00060 m
	// 0.0635 m
	// not a value: "6,5 cm": use a point for decimals, not a comma; write it like 6cm±0.5mm
}

// Five trials of the same spin-up: how sure is the mean, and does the sixth
// agree with it?
func ExampleAverage() {
	mean, err := tacho.Average("rev/s", "trials", 61.8, 62.4, 62.9, 62.1, 62.6)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%v with %.0f degrees of freedom\n", mean, mean.DOF())
	lo, hi := mean.CI95()
	fmt.Printf("95 %%: %.1f to %.1f, by a factor of %.2f\n", lo, hi, mean.K(0.95))
	sixth := tacho.Measured(63.1, 0.4, "rev/s", "sixth trial")
	fmt.Printf("the sixth is %.1f standard uncertainties away\n", tacho.Score(sixth, mean))
	// Output:
	// 62.36 ± 0.19 rev/s with 4 degrees of freedom
	// 95 %: 61.8 to 62.9, by a factor of 2.78
	// the sixth is 1.7 standard uncertainties away
}

// The g-load of a tip bends with the square of the speed; Combine and MonteCarlo
// agree as long as the uncertainties are small.
func ExampleCombine() {
	turns := tacho.Measured(62.5, 0.13, "rev/s", "tone")
	radius := tacho.Measured(0.04, 0.0003, "m", "radius")
	load := func(x []float64) float64 {
		w := 2 * math.Pi * x[0]
		return w * w * x[1] / float64(tacho.StandardGravity)
	}
	fmt.Println(tacho.Combine("gₙ", load, turns, radius))
	s, err := tacho.MonteCarlo("gₙ", load, 200000, 1, turns, radius)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.0f ± %.1f\n", s.Mean, s.SD)
	// Output:
	// 629.0 ± 5.4 gₙ
	// 629 ± 5.4
}

func ExampleMetrePerSec_KilometrePerHour() {
	v := tacho.MetrePerSec(15.708)
	fmt.Println(v, "is", v.KilometrePerHour(), "or", v.MilePerHour())
	fmt.Println(tacho.RevPerSec(62.5).RPM(), "is", tacho.RevPerSec(62.5).RadPerSec())
	// Output:
	// 15.708 m/s is 56.5488 km/h or 35.1378 mile/h
	// 3750 rpm is 392.699 rad/s
}
