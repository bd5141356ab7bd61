package comb

import (
	"math"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/evidence"
)

// highPassed returns noise of unit variance above the edge of a high-pass: Butterworth's,
// whose 2n poles lie on a circle at angles of (2k+1)/(4n) of a half turn, as sections of
// the bilinear transform (both in every textbook; from memory).
func highPassed(seed uint64, n int, fs, edge float64, sections int) []float64 {
	r := rand.New(rand.NewPCG(seed, 3))
	x := make([]float64, n)
	for i := range x {
		x[i] = r.NormFloat64()
	}
	w := math.Tan(math.Pi * edge / fs)
	for k := range sections {
		d := 2 * math.Cos(math.Pi*float64(2*k+1)/float64(4*sections))
		a0 := 1 + d*w + w*w
		a1, a2 := 2*(w*w-1)/a0, (1-d*w+w*w)/a0
		var x1, x2, y1, y2 float64
		for i, v := range x {
			y := (v-2*x1+x2)/a0 - a1*y1 - a2*y2
			x1, x2, y1, y2 = v, x1, y, y1
			x[i] = y
		}
	}
	return x
}

// Where a high-pass of the recorder cuts the noise below the pulse rate, no line lies at
// its edge; a line that is there is one on either side of it.
func TestTheEdgeOfAHighPassIsNoLine(t *testing.T) {
	const fs, seconds, rate = 8000.0, 12.0, 72.0
	sure := evidence.New(0.75, 2e-3)
	n := int(seconds * fs)
	turn := func(t float64) float64 { return rate * t }
	orders := func(x []float64) *Orders {
		o, err := NewOrders(source(t, fs, x), turn, 0.1, seconds-0.1, 48, 20)
		if o == nil || err != nil {
			t.Fatal(o, err)
		}
		return o
	}
	margin := func(o *Orders, base float64) float64 {
		return o.Evidence(base, 1, sure, sure) - o.Evidence(1, 1, sure, sure)
	}
	for seed := range uint64(4) {
		for _, edge := range []float64{14, 18, 22} {
			x := highPassed(seed, n, fs, edge, 6)
			for i := range x {
				phi := 2 * math.Pi * rate * float64(i) / fs
				x[i] += math.Cos(phi) + 0.5*math.Cos(2*phi+1)
			}
			o := orders(x)
			for _, den := range []float64{2, 3, 4} {
				if m := margin(o, 1/den); m > -2 {
					t.Errorf("noise from %g Hz on: evidence of 1/%g of the rate %.1f nats over that of the rate, want less", edge, den, m)
				}
			}
			for i := range x {
				x[i] += 0.2 * math.Cos(2*math.Pi*rate/3*float64(i)/fs)
			}
			if m := margin(orders(x), 1.0/3); m < 1 {
				t.Errorf("noise from %g Hz on and a line at 1/3: evidence of 1/3 of the rate %.1f nats over that of the rate, want more", edge, m)
			}
		}
	}
}
