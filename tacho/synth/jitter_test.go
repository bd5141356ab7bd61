package synth_test

import (
	"math"
	"testing"

	"rotorhum/tacho/synth"
)

// Single pulses must come early or late by the given part of their distance, each on its
// own, and on the mean on time. A Gaussian pulse stands where a parabola through the
// logarithms of its three highest samples has its top: exact without noise, as the
// logarithm of a Gaussian pulse is a parabola.
func TestPulsesComeEarlyOrLate(t *testing.T) {
	t.Parallel()
	const fs, rate, jitter, seconds = 48000, 20.0, 0.01, 100
	take := mustMake(t, synth.Scene{Rate: fs, Seconds: seconds, Seed: 7, Rotors: []synth.Rotor{{
		Pulses: 4, PulseWidth: 0.03, Jitter: jitter, Profile: synth.Steady(rate / 4), Level: 1}}})
	x := take.Samples[0]
	lowest := x[0] // between pulses
	for _, v := range x {
		lowest = math.Min(lowest, v)
	}
	var sum, squares, next, n, last float64
	for k := 1.0; k < rate*seconds-1; k++ {
		at := int(k / rate * fs)
		top := at
		for i := at - 500; i <= at+500; i++ {
			if x[i] > x[top] {
				top = i
			}
		}
		a, b, c := math.Log(x[top-1]-lowest), math.Log(x[top]-lowest), math.Log(x[top+1]-lowest)
		early := k - rate*(float64(top)+0.5*(a-c)/(a-2*b+c))/fs
		sum += early
		squares += early * early
		next += early * last
		last = early
		n++
	}
	sd := math.Sqrt(squares / n)
	t.Logf("%v pulses: mean %.5f, standard deviation %.5f, from one to the next %.3f", n, sum/n, sd, next/squares)
	// 1998 pulses: three standard uncertainties
	if math.Abs(sd/jitter-1) > 3/math.Sqrt(2*n) || math.Abs(sum/n) > 3*jitter/math.Sqrt(n) || math.Abs(next/squares) > 3/math.Sqrt(n) {
		t.Errorf("want a standard deviation of %v, no mean, and none that knows of the last", jitter)
	}
	if speed := take.Truth.Speed(3); speed != rate/4 {
		t.Errorf("the truth has %v rev/s, want %v: a jitter is no change of speed", speed, rate/4)
	}
}
