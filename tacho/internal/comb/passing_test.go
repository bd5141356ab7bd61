package comb

import (
	"math"
	"testing"
)

// Lines of a rate that the first does not share pass its own for as long as they sound; a
// stack of its own alone, whether it holds or moves, noise, or one at a steady ratio to it
// shows none.
func TestPassingIsWhatHasARateOfItsOwn(t *testing.T) {
	const fs, seconds = 16000.0, 6.0
	amps := []float64{1.5, 1.1, 1.2, 0.9}
	n := int(seconds * fs)
	steady := func(float64) float64 { return 210 }
	moving := func(t float64) float64 { return 150 * math.Exp(0.3*t) }
	sounds := func(rates ...func(t float64) float64) []float64 {
		x := hum(1, n, fs, rates[0], amps)
		for _, r := range rates[1:] {
			for i, v := range hum(1, n, fs, r, amps) {
				x[i] += v
			}
		}
		return x
	}
	late := sounds(steady)
	for i, v := range hum(2, n, fs, moving, amps) {
		if float64(i) > 4*fs {
			late[i] += v
		}
	}
	for _, c := range []struct {
		name   string
		x      []float64
		rates  []func(t float64) float64
		lo, hi float64
	}{
		{"a steady one", sounds(steady), []func(t float64) float64{steady}, 0, 0},
		{"one that moves", sounds(moving), []func(t float64) float64{moving}, 0, 0},
		{"one beside another at 5:4", sounds(steady, func(t float64) float64 { return 262.5 }), []func(t float64) float64{steady}, 0, 0},
		{"noise", hum(3, n, fs, steady, nil), []func(t float64) float64{steady}, 0, 0},
		{"one beside another that moves", sounds(steady, moving), []func(t float64) float64{steady}, 4, seconds},
		{"both known", sounds(steady, moving), []func(t float64) float64{steady, moving}, 0, 0.3},
		{"another for the last two seconds", late, []func(t float64) float64{steady}, 1.2, 2.2},
	} {
		got, err := Passing(source(t, fs, c.x), c.rates, 0.1, seconds-0.1)
		if err != nil {
			t.Fatal(err)
		}
		if got < c.lo || got > c.hi {
			t.Errorf("%s: lines pass for %.2f s, want %g to %g", c.name, got, c.lo, c.hi)
		}
	}
	if got, err := Passing(source(t, fs, sounds(steady)), nil, 0.1, seconds-0.1); got != 0 || err != nil {
		t.Errorf("beside nothing lines pass for %g s (%v), want none", got, err)
	}
}
