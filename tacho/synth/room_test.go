package synth

import (
	"math"
	"sort"
	"testing"
)

// The decay of the echo, from the energy still to come (Schroeder's backward
// integration, 1965), and the ratio of direct sound to echo.
func TestRoomRingsOnAsLongAsItSays(t *testing.T) {
	const fs = 8000
	for _, rt := range []float64{0.4, 2} {
		h := Room{RT60: rt, Direct: 6}.response(Source(5), fs)
		if h[0] != 1 {
			t.Fatalf("the direct sound is %v, want 1", h[0])
		}
		// Sounds below 2 kHz decay by the stated time; the half above decays twice
		// as fast. Listen below.
		low := append([]float64(nil), h...)
		low[0] = 0
		butterworth(nil, low, 1000, fs, 8, false)
		toCome := make([]float64, len(h)+1)
		for i := len(h) - 1; i >= 0; i-- {
			toCome[i] = toCome[i+1] + low[i]*low[i]
		}
		// From 5 to 25 dB below the start, as ISO 3382 takes T20, times three.
		below := func(level float64) float64 {
			return float64(sort.Search(len(h), func(i int) bool { return 10*math.Log10(toCome[i]/toCome[0]) < level })) / fs
		}
		// The level of noise decaying for rt seconds in 1 kHz of band is known to
		// some 5 % of the time.
		if got := 3 * (below(-25) - below(-5)); math.Abs(got/rt-1) > 0.1 {
			t.Errorf("decays by 60 dB in %.3f s, want %v", got, rt)
		}
		energy := 0.0
		for _, v := range h[1:] {
			energy += v * v
		}
		if got := -10 * math.Log10(energy); math.Abs(got-6) > 1e-9 {
			t.Errorf("direct over echo %v dB, want 6", got)
		}
	}
}

// An echo that began before the recording is there from its first sample: the
// loudness of a steady rotor does not build up.
func TestEchoIsUnderWayFromTheStart(t *testing.T) {
	take, err := Scene{Rate: 8000, Seconds: 4, Seed: 1, Room: &Room{RT60: 1.5, Direct: -6},
		Rotors: []Rotor{{Pulses: 5, Profile: Steady(40)}}}.Make()
	if err != nil {
		t.Fatal(err)
	}
	power := func(x []float64) float64 {
		sum := 0.0
		for _, v := range x {
			sum += v * v
		}
		return sum / float64(len(x))
	}
	x := take.Samples[0]
	// The sound is periodic, so equal stretches of whole periods have the same
	// power, to what of the echo comes later than 60 dB down.
	if got := power(x[:800]) / power(x[16000:16800]); math.Abs(got-1) > 0.02 {
		t.Errorf("power at the start over that after 2 s: %v, want 1", got)
	}
}

func TestConvolveEqualsTheSum(t *testing.T) {
	src := Source(8)
	for _, c := range []struct{ n, taps int }{{1, 1}, {10, 3}, {3, 10}, {1024, 1024}, {1025, 1024}, {5000, 700}, {2500, 3000}} {
		x, h := WhiteNoise(src, 1, c.n), WhiteNoise(src, 1, c.taps)
		got := convolve(nil, x, h)
		for i := range x {
			want := 0.0
			for k := 0; k < len(h) && k <= i; k++ {
				want += h[k] * x[i-k]
			}
			if math.Abs(got[i]-want) > 1e-10 {
				t.Fatalf("%d samples, %d taps: sample %d is %v, want %v", c.n, c.taps, i, got[i], want)
			}
		}
	}
}
