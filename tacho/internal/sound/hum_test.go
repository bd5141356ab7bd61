package sound

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestHumIsFoundAndRemoved(t *testing.T) {
	const fs, n = 8000.0, 80000
	r := rand.New(rand.NewPCG(3, 3))
	x := make([]float64, n)
	for i := range x {
		at := float64(i) / fs
		x[i] = 0.1*r.NormFloat64() + 0.2*math.Cos(2*math.Pi*49.97*at) + 0.3*math.Cos(2*math.Pi*2*49.97*at+1) + 0.1*math.Cos(2*math.Pi*6*49.97*at+2)
	}
	s, err := New(reader(x), []int{0}, n, fs, fs)
	if err != nil {
		t.Fatal(err)
	}
	h, err := s.FindHum()
	if err != nil || h == nil {
		t.Fatalf("no hum found (%v)", err)
	}
	if math.Abs(h.Base-49.97) > 0.02 || !slices.Equal(h.Lines, []int{1, 2, 6}) {
		t.Errorf("hum of %.3f Hz with lines %v, want 49.97 and [1 2 6]", h.Base, h.Lines)
	}
	if err := s.Remove(h); err != nil {
		t.Fatal(err)
	}
	if h.Near(99.94) != true || h.Near(87) {
		t.Error("99.94 Hz must count as the supply's, 87 Hz must not")
	}
	b, _ := s.Block(nil, 1000, n-2000)
	e := 0.0
	for _, v := range b[0] {
		e += v * v / float64(len(b[0]))
	}
	// what is left is the noise, variance 0.01
	if math.Abs(e-0.01) > 0.0006 {
		t.Errorf("power left is %.5f, want the noise's 0.01", e)
	}
}

func TestNoHumInNoiseOrInARotor(t *testing.T) {
	const fs, n = 8000.0, 48000
	for seed := range uint64(30) {
		r := rand.New(rand.NewPCG(seed, 4))
		x := make([]float64, n)
		f := 70 + 200*r.Float64()
		for i := range x {
			at := float64(i) / fs
			x[i] = r.NormFloat64()
			if seed%2 == 1 {
				for m := 1.0; m < 5; m++ {
					x[i] += math.Cos(2 * math.Pi * m * f * at)
				}
			}
		}
		s, _ := New(reader(x), []int{0}, n, fs, fs)
		if h, _ := s.FindHum(); h != nil && math.Abs(f-100) > 0.3 && math.Abs(f-120) > 0.3 {
			t.Errorf("seed %d: hum of %.2f Hz with lines %v found where there is none (rotor at %.2f Hz)", seed, h.Base, h.Lines, f)
		}
	}
}

// Grids hold their frequency to 0.2 Hz (common practice): what lies further off is a
// rotor, although the lines of a piece of 4 s are wider than that.
func TestNoHumFurtherOffThanGridsAre(t *testing.T) {
	const fs, n = 8000.0, 48000
	for _, v := range []struct {
		base float64
		hum  bool
	}{{49.57, false}, {49.74, false}, {49.85, true}, {50.15, true}, {50.3, false}, {59.65, false}, {60.15, true}, {60.34, false}} {
		for seed := range uint64(4) {
			r := rand.New(rand.NewPCG(seed, 6))
			x := make([]float64, n)
			for m := 1.0; m < 5; m++ {
				p := 2 * math.Pi * r.Float64()
				for i := range x {
					x[i] += 0.2 * math.Cos(2*math.Pi*m*v.base*float64(i)/fs+p)
				}
			}
			for i := range x {
				x[i] += 0.2 * r.NormFloat64()
			}
			s, _ := New(reader(x), []int{0}, n, fs, fs)
			if h, err := s.FindHum(); err != nil || (h != nil) != v.hum {
				t.Errorf("seed %d, lines at multiples of %g Hz: hum %v (%v), want one: %v", seed, v.base, h, err, v.hum)
			}
		}
	}
}

func TestNoHumInARotorThatTurnsWithTheSupply(t *testing.T) {
	const fs, n = 8000.0, 32000
	for k := 2; k <= 4; k++ {
		r := rand.New(rand.NewPCG(uint64(k), 5))
		x := make([]float64, n)
		for m := 2; m < 12*k; m++ {
			p := 2 * math.Pi * r.Float64()
			for i := range x {
				x[i] += 0.1 * math.Cos(2*math.Pi*50*float64(m*i)/float64(k)/fs+p)
			}
		}
		for i := range x {
			x[i] += 0.1 * r.NormFloat64()
		}
		s, _ := New(reader(x), []int{0}, n, fs, fs)
		if h, err := s.FindHum(); h != nil || err != nil {
			t.Errorf("lines at all multiples of 50/%d Hz: a hum was found, or an error: %v", k, err)
		}
	}
}

// A rotor whose speed swings has bundles of lines where a supply has single ones; in
// front of one that swings a hum is found all the same.
func TestNoHumInARotorWhoseSpeedSwings(t *testing.T) {
	const fs, n = 8000.0, 64000
	for _, v := range []struct{ rate, swing, depth float64 }{
		{118.49, 3.51, 0.0023}, {120.5, 0.7, 0.02}, {100.1, 0.42, 0.016}, {59.9, 0.68, 0.075}, {97, 1, 0.02},
		{120.2, 5.24, 0.0077}, {119.8, 6.7, 0.025}, {60.1, 4.1, 0.03},
		{104, 3.6, 0.019}, {103.9, 3.8, 0.01}, {115.9, 4.1, 0.02},
	} {
		for _, hum := range [...]float64{0, 0.3} {
			r := rand.New(rand.NewPCG(uint64(10*v.rate), 7))
			x := make([]float64, n)
			phi := 0.0
			for i := range x {
				at := float64(i) / fs
				phi += 2 * math.Pi * v.rate * (1 + v.depth*math.Sin(2*math.Pi*v.swing*at)) / fs
				x[i] = 0.1*r.NormFloat64() + hum*math.Cos(2*math.Pi*50*at) + hum*math.Cos(2*math.Pi*150*at+1)
				for m := 1.0; m < 5; m++ {
					x[i] += math.Cos(m*phi+m) / m
				}
			}
			s, _ := New(reader(x), []int{0}, n, fs, fs)
			if h, err := s.FindHum(); (h != nil) != (hum > 0) || err != nil {
				t.Errorf("rotor at %g Hz that swings by %g at %g Hz, hum of %g: found %+v (%v)", v.rate, v.depth, v.swing, hum, h, err)
			}
		}
	}
}
