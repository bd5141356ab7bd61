package sound

import (
	"math"
	"math/rand/v2"
	"testing"
)

// left returns the power, per sample, of what a hum leaves or takes away too much when it
// is removed from a sound in which other sounds with it.
func left(t *testing.T, fs float64, hum, other []float64) float64 {
	t.Helper()
	x := make([]float64, len(hum))
	for i := range x {
		x[i] = hum[i] + other[i]
	}
	s, err := New(reader(x), []int{0}, len(x), fs, fs)
	if err != nil {
		t.Fatal(err)
	}
	h, err := s.FindHum()
	if err != nil || h == nil {
		t.Fatalf("no hum found (%v)", err)
	}
	if err := s.Remove(h); err != nil {
		t.Fatal(err)
	}
	b, err := s.Block(nil, 0, len(x))
	if err != nil {
		t.Fatal(err)
	}
	sum := 0.0
	for i, v := range b[0] {
		sum += (v - other[i]) * (v - other[i]) / float64(len(x))
	}
	return sum
}

// supplyOf returns a hum with lines at the given multiples of 50.03 Hz, of amplitude 0.2
// each, times level; its frequency sways by off.
func supplyOf(fs float64, n int, lines []float64, off, level func(at float64) float64) []float64 {
	x := make([]float64, n)
	turn := 0.0
	for i := range x {
		at := float64(i) / fs
		turn += 2 * math.Pi * (50.03 + off(at)) / fs
		for k, m := range lines {
			x[i] += 0.2 * level(at) * math.Cos(m*turn+float64(k))
		}
	}
	return x
}

func constant(v float64) func(float64) float64 { return func(float64) float64 { return v } }

// What crosses the lines of a supply, or stands near one, is no part of it: by
// construction, the whole of a rotor must be left, and nothing of the hum.
func TestHumKeepsWhatCrossesIt(t *testing.T) {
	const fs = 8000.0
	for _, v := range []struct{ seconds, from, to float64 }{{4, 172, 82}, {6, 60, 140}, {12, 70, 130}, {8, 67.6, 67.6}} {
		n := int(v.seconds * fs)
		hum := supplyOf(fs, n, []float64{1, 2, 3, 4, 6, 8, 9}, constant(0), constant(1))
		r := rand.New(rand.NewPCG(uint64(v.from), 8))
		rotor := make([]float64, n)
		turn, power := 0.0, 0.0
		for i := range rotor {
			turn += 2 * math.Pi * v.from * math.Pow(v.to/v.from, float64(i)/float64(n)) / fs
			for m := 1.0; m <= 8; m++ {
				rotor[i] += 0.1 * math.Cos(m*turn+m*m)
			}
			rotor[i] += 0.02 * r.NormFloat64()
			power += rotor[i] * rotor[i] / float64(n)
		}
		if e := left(t, fs, hum, rotor); e > 0.003*power {
			t.Errorf("%g to %g Hz in %g s: %.2g of the rotor's power are taken away or added", v.from, v.to, v.seconds, e/power)
		}
	}
}

// A supply whose frequency or loudness changes is followed, as far as its pieces show:
// over a minute the frequency of grids sways by hundredths of a hertz (common practice).
func TestHumThatChangesIsFollowed(t *testing.T) {
	const fs, n = 4000.0, 240000
	sway := func(by, seconds float64) func(float64) float64 {
		return func(at float64) float64 { return by * math.Sin(2*math.Pi*at/seconds) }
	}
	for _, v := range []struct {
		name       string
		off, level func(float64) float64
	}{
		{"still", constant(0), constant(1)},
		{"frequency", sway(0.02, 50), constant(1)},
		{"loudness", constant(0), func(at float64) float64 { return 1 + sway(0.5, 30)(at) }},
	} {
		hum := supplyOf(fs, n, []float64{1, 2, 3, 4, 6}, v.off, v.level)
		r := rand.New(rand.NewPCG(3, 9))
		noise := make([]float64, n)
		for i := range noise {
			noise[i] = 0.05 * r.NormFloat64()
		}
		power := 0.0
		for _, x := range hum {
			power += x * x / n
		}
		if e := left(t, fs, hum, noise); e > 0.005*power {
			t.Errorf("%s: %.2g of the power of the hum are left", v.name, e/power)
		}
	}
}
