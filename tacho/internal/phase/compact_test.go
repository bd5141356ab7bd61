package phase

import (
	"math"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/sound"
)

// A compact result is the same motion, as well known, in fewer points; cut in two
// and joined it is the whole again.
func TestCompactIsTheSameMotion(t *testing.T) {
	const fs = 8000.0
	r := rand.New(rand.NewPCG(3, 4))
	rate := func(t float64) float64 { return 300 + 60*math.Sin(t) }
	x := make([]float64, int(12*fs))
	phi := 0.0
	for i := range x {
		phi += 2 * math.Pi * rate(float64(i)/fs) / fs
		x[i] = 0.3 * r.NormFloat64()
		for m := 1.0; m <= 4; m++ {
			x[i] += math.Cos(m * phi)
		}
	}
	src, err := sound.New(func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }, []int{0}, len(x), fs, fs)
	if err != nil {
		t.Fatal(err)
	}
	var c Course
	for at := 0.0; at <= 12; at += 0.02 {
		c.T, c.Rate = append(c.T, at), append(c.Rate, rate(at))
	}
	full, err := Follow(src, c, 0.003, Options{Harmonics: 8, Memory: 0.35})
	if err != nil || full == nil {
		t.Fatal(err)
	}
	// no edges, where a sum of points knows less
	at := func(r *Result, t float64) (omega, sd float64) {
		m := r.motionAt(t)
		return m.Omega, math.Sqrt(m.OmegaVar)
	}
	same := func(name string, r *Result) {
		t.Helper()
		for s := 0.5; s < 11.5; s += 0.01 {
			a, u := at(full, s)
			b, v := at(r, s)
			if math.Abs(a-b) > 0.3*u || math.Abs(v/u-1) > 0.2 {
				t.Fatalf("%s: %.4f ± %.4f rad/s at %.2f s, before %.4f ± %.4f", name, b, v, s, a, u)
			}
		}
	}
	small, _ := Follow(src, c, 0.003, Options{Harmonics: 8, Memory: 0.35})
	small.Compact()
	if n := len(small.Blocks); n > len(full.Blocks)*2/3 {
		t.Errorf("%d blocks of %d are left", n, len(full.Blocks))
	}
	same("compact", small)
	// its points smoothed anew say the same
	again, _ := Run(small.Points, small.prior)
	for i, m := range again {
		if g := small.Motion[i]; math.Abs(m.Omega-g.Omega) > 0.5*math.Sqrt(g.OmegaVar) {
			t.Fatalf("smoothed anew: %.4f rad/s at %.2f s, before %.4f ± %.4f", m.Omega, small.Blocks[i].T, g.Omega, math.Sqrt(g.OmegaVar))
		}
	}
	if s, w := small.Strength(5, 0), full.Strength(10, 0); math.Abs(s.Amp2/w.Amp2-1) > 0.3 {
		t.Errorf("the first line has %.3g of its power", s.Amp2/w.Amp2)
	}
	left, right := small.Before(7), small.From(5)
	if left == nil || right == nil || left.Blocks[len(left.Blocks)-1].T >= 7 || right.Blocks[0].T < 5 {
		t.Fatal("the parts do not end where they should")
	}
	if small.Before(0.01) != nil {
		t.Error("something is left before the start")
	}
	for i := range right.Motion { // each counts turns from its own start
		right.Motion[i].Phi -= 40
		right.Points[i].Phi -= 40
	}
	left.Join(right, 6)
	same("joined", left)
	for s := 1.0; s < 11; s += 0.01 {
		if d := left.motionAt(s).Phi - full.motionAt(s).Phi; math.Abs(d) > 0.05 {
			t.Fatalf("joined: the phase is off by %.3f rad at %.2f s", d, s)
		}
	}
	left.Later(100)
	if b := left.Blocks[0].T; math.Abs(b-full.Blocks[0].T-100) > 1e-9 {
		t.Errorf("later, it begins at %.3f s", b)
	}
}
