package phase

import (
	"math"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/sound"
)

// What a stack of lines adds to noise goes when its lines are taken out, along a
// course that rises, and the noise stays: closed form, the sound is made here.
func TestStackSubtract(t *testing.T) {
	const fs, n = 8000.0, 24000
	r := rand.New(rand.NewPCG(1, 2))
	lines, noise := make([]float64, n), make([]float64, n)
	both := make([]float64, n)
	power := 0.0
	for i := range both {
		at := float64(i) / fs
		phi := 2 * math.Pi * (90*at + 10*at*at)
		for m := 1.0; m <= 6; m++ {
			lines[i] += math.Cos(m*phi+m*m) / m
		}
		noise[i] = 0.05 * r.NormFloat64()
		both[i] = lines[i] + noise[i]
		power += lines[i] * lines[i] / n
	}
	src, err := sound.New(func(_, start int, dst []float64) (int, error) { return copy(dst, both[start:]), nil }, []int{0}, n, fs, fs)
	if err != nil {
		t.Fatal(err)
	}
	s, err := NewStack(src, Course{T: []float64{0.0003, 2.9999}, Rate: []float64{90.006, 149.998}}, 20, 1, 0.35, nil)
	if err != nil {
		t.Fatal(err)
	}
	if p := s.Power(); math.Abs(p/power-1) > 0.01 {
		t.Errorf("the lines' power is said to be %v, it is %v", p, power)
	}
	x, err := src.Without(s.Subtract).Block(nil, 0, n)
	if err != nil {
		t.Fatal(err)
	}
	var left, was float64
	for i := 1000; i < n-1000; i++ {
		d := x[0][i] - noise[i]
		left += d * d
		was += lines[i] * lines[i]
	}
	if left > 1e-4*was {
		t.Errorf("%.2g of the lines' power is left, or of the noise is gone", left/was)
	}
}
