package synth_test

import (
	"math"
	"testing"

	"rotorhum/tacho/synth"
)

// project returns amplitude and phase of x at f hertz by direct summation, which
// is exact where f completes whole periods in x.
func project(x []float64, f, fs float64) (amplitude, phase float64) {
	var re, im float64
	sr, cr := math.Sincos(2 * math.Pi * f / fs)
	var s, c float64
	for i, v := range x {
		if i%64 == 0 { // afresh before the rotation has lost digits
			s, c = math.Sincos(2 * math.Pi * math.Mod(f*float64(i)/fs, 1))
		}
		re += v * c
		im -= v * s
		s, c = s*cr+c*sr, c*cr-s*sr
	}
	k := 2 / float64(len(x))
	return k * math.Hypot(re, im), math.Atan2(im, re)
}

func variance(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return sum / float64(len(x))
}

func TestSteadyRotorHasTheLinesItWasGiven(t *testing.T) {
	scene := synth.Scene{Rate: 8000, Seconds: 1, Rotors: []synth.Rotor{{
		Pulses: 5, Profile: synth.Steady(20), Harmonics: []float64{0.3, 0, 0.1}, Phases: []float64{1, 0, -2},
	}}}
	take, err := scene.Make()
	if err != nil {
		t.Fatal(err)
	}
	x := take.Samples[0]
	if len(x) != 8000 {
		t.Fatalf("%d samples, want 8000", len(x))
	}
	const tol = 1e-9 // rounding of the summed angle over 8000 samples
	for _, c := range []struct{ f, amplitude, phase float64 }{{100, 0.3, 1}, {200, 0, 0}, {300, 0.1, -2}, {20, 0, 0}, {400, 0, 0}} {
		a, p := project(x, c.f, 8000)
		if math.Abs(a-c.amplitude) > tol || c.amplitude > 0 && math.Abs(p-c.phase) > 1e-8 {
			t.Errorf("line at %v Hz: amplitude %v, phase %v; want %v, %v", c.f, a, p, c.amplitude, c.phase)
		}
	}
	if got, want := take.LinePower, (0.09+0.01)/2; math.Abs(got-want) > 1e-12 {
		t.Errorf("LinePower = %v, want %v", got, want)
	}
	if tr := take.Truth; !tr.Steady || tr.PeakSpeed != 20 || tr.PulseRate(0.5) != 100 || math.Abs(tr.Turns-20) > 1e-9 {
		t.Errorf("truth: %+v", tr)
	}
}

func TestNoiseIsAsLoudAsTheRatioSays(t *testing.T) {
	for _, snr := range []float64{20, -15} {
		scene := synth.Scene{Rate: 8000, Seconds: 20, Seed: 5,
			Rotors: []synth.Rotor{{Pulses: 1, Profile: synth.Steady(100), Harmonics: []float64{1, 1, 1, 1, 1}}},
			Noise:  []synth.Noise{synth.White(snr)}}
		with, err := scene.Make()
		if err != nil {
			t.Fatal(err)
		}
		scene.Noise = nil
		without, err := scene.Make()
		if err != nil {
			t.Fatal(err)
		}
		diff := make([]float64, len(with.Samples[0]))
		for i := range diff {
			diff[i] = with.Samples[0][i] - without.Samples[0][i]
		}
		got := 10 * math.Log10(2.5/variance(diff)) // five lines of amplitude 1: 5/2
		// The variance of 160000 Gaussian samples is known to sqrt(2/n) = 0.35 %, 0.015 dB.
		if math.Abs(got-snr) > 0.06 {
			t.Errorf("asked %v dB, got %.3f dB", snr, got)
		}
	}
}
