package exam

import (
	"math"
	"testing"

	"rotorhum/tacho/synth"
)

// near fails the test unless got is within part (relative) of want.
func near(t *testing.T, what string, got, want, part float64) {
	t.Helper()
	if !(math.Abs(got/want-1) <= part) {
		t.Errorf("%s = %.7g, want %.7g within %g %% (off by %+.3g %%)", what, got, want, 100*part, 100*(got/want-1))
	}
}

// performed makes a scene and replaces what chance decides about its level by
// the amplitudes and the noise of the published example.
func performed(t *testing.T, s synth.Scene) *synth.Take {
	t.Helper()
	take, err := s.Make()
	if err != nil {
		t.Fatal(err)
	}
	return take
}

// whiteFor returns white noise of the given variance beside lines of the given
// amplitudes: levels in a scene are relative to the power of the lines.
func whiteFor(variance float64, amplitudes ...float64) []synth.Noise {
	power := 0.0
	for _, a := range amplitudes {
		power += a * a / 2
	}
	return []synth.Noise{synth.White(10 * math.Log10(power/variance))}
}

// TestSteadyBound compares with the harmonic Cramér-Rao bound
//
//	var(f0) = 24 s² fs² / ((2 pi)² N (N²-1) sum l² A_l²)
//
// (Christensen and Jakobsson 2009, from memory), evaluated for four examples and
// agreeing with the inverse of the Fisher information matrix to 0.5 %.
func TestSteadyBound(t *testing.T) {
	for _, c := range []struct {
		n          int
		f0, sd     float64
		amplitudes []float64
		want       float64 // Hz
	}{
		{4800, 997.3, 1, []float64{1}, 0.11253954196190266},
		{4800, 997.3, 1, []float64{1, 0.5, 0.25}, 0.0703028945176439},
		{4800, 997.3, 1, []float64{1, 1, 1, 1, 1}, 0.015174828742478205},
		{9600, 400.7, 0.5, []float64{0.3, 0.8, 0.2, 0.1}, 0.011173790280924937},
	} {
		s := synth.Scene{
			Rate: 48000, Seconds: float64(c.n) / 48000,
			Rotors: []synth.Rotor{{Pulses: 1, Profile: synth.Steady(c.f0), Harmonics: c.amplitudes}},
			Noise:  whiteFor(c.sd*c.sd, c.amplitudes...),
		}
		// the power that a scene's levels refer to is taken over the samples
		near(t, "steady bound", steadyBound(s, performed(t, s)), c.want, 2e-3)
	}
}

// TestLocalBound compares with the bounds of a linear chirp (Djuric and Kay 1990,
// from memory): 0.11254 Hz in the middle of 0.1 s at 48 kHz with amplitude and
// noise of 1, and 4.00 times that at either end. The whole recording is the best
// window, since the chirp is exact.
func TestLocalBound(t *testing.T) {
	s := synth.Scene{
		Rate: 48000, Seconds: 0.1,
		Rotors: []synth.Rotor{{Pulses: 1, Profile: synth.Ramp(2900, 3100, 0, 0.1), Harmonics: []float64{1}}},
		Noise:  whiteFor(1, 1),
	}
	b := newLocalBound(s, performed(t, s))
	near(t, "bound in the middle", b.at(0.05, math.Inf(1)), 0.11253954196190266, 3e-3)
	near(t, "bound at the start", b.at(0, math.Inf(1)), 0.4500702835288316, 3e-3)
	near(t, "bound at the end", b.at(0.1, math.Inf(1)), 0.4500702835288316, 3e-3)
	// a window of half the length: 2^1.5 times worse
	near(t, "bound for a shorter window", b.at(0.05, 0.05), 0.11253954196190266*math.Pow(2, 1.5), 3e-3)
}

// TestLocalBoundBends: where the speed swings, a longer window errs by what the
// chirp leaves out; of noise and bending the bound takes the best compromise,
// which is worse than either bound alone.
func TestLocalBoundBends(t *testing.T) {
	scene := func(depth float64) synth.Scene {
		return synth.Scene{
			Rate: 8000, Seconds: 4.25, // its middle is the top of a swing
			Rotors: []synth.Rotor{{Pulses: 1, Profile: synth.Steady(200).Wobbling(synth.Wow{Rate: 2, Depth: depth}), Harmonics: []float64{1}}},
			Noise:  whiteFor(0.01, 1),
		}
	}
	calm, slow, fast := scene(0), scene(1e-4), scene(3e-2)
	at := func(s synth.Scene) float64 { return newLocalBound(s, performed(t, s)).at(2.125, math.Inf(1)) }
	near(t, "bound without a swing", at(calm), steadyBound(calm, performed(t, calm)), 0.02)
	if a, b, c := at(calm), at(slow), at(fast); !(a < b && b < c) {
		t.Errorf("bounds %.3g, %.3g, %.3g Hz for swings of 0, 0.01 and 3 %%: they must rise", a, b, c)
	}
	// The best window makes the square of the bias a quarter of the variance or
	// less: noise alone in a fifth of a swing is a lower limit, and a bend
	// cannot help.
	if got, least := at(fast), at(calm); got < 5*least {
		t.Errorf("bound %.3g Hz at a swing of 3 %%, only %.1f times that of a steady speed", got, got/least)
	}
}

// TestNoiseShape: the density of coloured noise is what synth makes, found by
// averaging a long piece of it in a band.
func TestNoiseShape(t *testing.T) {
	const fs, n = 8000, 1 << 18
	for _, v := range []synth.Noise{synth.Pink(0), {Slope: -5}, {Slope: 2, Low: 100, High: 2000}} {
		low := v.Low
		if low == 0 {
			low = 10
		}
		x := synth.ColouredNoise(synth.Source(3), 1, v.Slope, low, v.High, fs, n)
		for _, f := range []float64{60, 300, 1200} {
			// mean power of the lines of a plain transform from 0.9 f to 1.1 f
			sum, k := 0.0, 0
			for g := 0.9 * f; g < 1.1*f; g += 0.2 * f / 400 {
				bin := math.Round(g * n / fs)
				re, im := 0.0, 0.0
				step := 2 * math.Pi * bin / n
				c, s := math.Cos(step), math.Sin(step)
				u, w := 1.0, 0.0
				for _, y := range x {
					re += y * u
					im += y * w
					u, w = u*c-w*s, u*s+w*c
				}
				sum += (re*re + im*im) / n
				k++
			}
			// 400 looks at chance: 5 % standard deviation
			near(t, "density", sum/float64(k), shape(v, f, fs), 0.2)
		}
	}
}
