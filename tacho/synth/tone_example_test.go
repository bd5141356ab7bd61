package synth_test

import (
	"fmt"
	"math"

	"rotorhum/tacho/synth"
)

// Eight samples of a tone that completes one period in them.
func ExampleTone() {
	for _, v := range synth.Tone(1000, 8000, 8) {
		fmt.Printf("%.3f ", math.Round(v*1000)/1000+0) // +0 turns -0 into 0
	}
	fmt.Println()
	// Output:
	// 1.000 0.707 0.000 -0.707 -1.000 -0.707 0.000 0.707
}

func ExampleTones() {
	key5 := synth.Tones([]float64{770, 1336}, nil, 8000, 800)
	fmt.Println(len(key5), key5[0])
	// Output:
	// 800 2
}

// A hum whose first harmonic is missing still repeats 100 times per second.
func ExampleHum() {
	x := synth.Hum(100, []float64{0, 1, 0.5}, 8000, 800)
	fmt.Printf("%.6f %.6f\n", x[3], x[3+80])
	// Output:
	// 1.271210 1.271210
}

func ExampleSquare() {
	x := synth.Square(50, 48000, 960)
	fmt.Printf("high %.2f, low %.2f\n", x[120], x[480])
	// Output:
	// high 1.00, low -1.00
}

func ExampleWhiteNoise() {
	a := synth.WhiteNoise(synth.Source(42), 1, 3)
	b := synth.WhiteNoise(synth.Source(42), 1, 3)
	fmt.Println(a[0] == b[0], a[2] == b[2])
	// Output:
	// true true
}
