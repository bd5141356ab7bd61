package tacho_test

import (
	"fmt"
	"math"

	"rotorhum/tacho"
)

// garden is an invented recording of a five-vane whirligig that turns 18 times a second: its
// pulse tone is 90 Hz, and its octave is louder.
func garden() *tacho.Recording {
	const fs = 8000
	x := make([]float64, 2*fs)
	hiss := uint32(7)
	for i := range x {
		hiss = hiss*1664525 + 1013904223
		x[i] = 0.02 * (float64(hiss)/math.MaxUint32 - 0.5)
		for m, a := range []float64{0.05, 0.1, 0.03, 0.02} {
			x[i] += a * math.Cos(2*math.Pi*90*float64(m+1)*float64(i)/fs+float64(m))
		}
	}
	rec, err := tacho.NewRecording("whirligig.wav", fs, x)
	if err != nil {
		panic(err)
	}
	return rec
}

// Why 90 Hz, and not the loudest line, 180 Hz, or the 45 Hz that has them all?
func ExampleInspectFamily() {
	s, err := tacho.InspectFamily(garden(), tacho.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, f := range []tacho.Hertz{90, 180, 45} {
		fmt.Printf("%v:", f)
		for _, l := range s.Lines(f)[:4] {
			if l.Evidence > 0 {
				fmt.Printf(" %d", l.M)
			} else {
				fmt.Print(" -")
			}
		}
		fmt.Println()
	}
	fmt.Println(s.EvidenceAt(90) > s.EvidenceAt(180), s.EvidenceAt(90) > s.EvidenceAt(45))
	// Output:
	// 90 Hz: 1 2 3 4
	// 180 Hz: 1 2 - -
	// 45 Hz: - 2 - 4
	// true true
}

func ExampleInspect() {
	in, err := tacho.Inspect(garden(), tacho.Options{Motion: tacho.Varying})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, c := range in.Courses {
		fmt.Println(c.Kept, c.Why)
	}
	best := in.Weighings[0].Readings[0]
	fmt.Printf("%.1f Hz, %s times the best\n", float64(best.Tone), best.Factor)
	fmt.Printf("amplitude of the octave: %.2f\n", in.Fits[0].Amp[1][10])
	// Output:
	// true it moves like a thing with inertia
	// 90.0 Hz, 1 times the best
	// amplitude of the octave: 0.10
}
