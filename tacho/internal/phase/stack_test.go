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

// The lines of a stack that stands still lie at the same multiples of a rate that does, and
// those of one that moves on by more than a line's width are left out: closed form.
func TestStackLines(t *testing.T) {
	steady := &Stack{course: Course{T: []float64{0, 2}, Rate: []float64{120, 120}}, every: 1, power: []float64{1, 1, 1}}
	rising := &Stack{course: Course{T: []float64{0, 2}, Rate: []float64{120, 132}}, every: 1, power: []float64{1, 1, 1}}
	unit := func(float64) float64 { return 100 }
	const within = 0.05 // 5 Hz
	var got [][2]float64
	tell := func(lo, hi float64) { got = append(got, [2]float64{lo, hi}) }
	steady.Lines(unit, 0.5, 1, within, tell)
	if len(got) != 3 {
		t.Fatalf("%d lines of three", len(got))
	}
	for k, r := range got {
		if m := 1.2 * float64(k+1); math.Abs(r[0]-(m-within)) > 1e-9 || math.Abs(r[1]-(m+within)) > 1e-9 {
			t.Errorf("line %d lies at %.3f to %.3f, want %.3f ± %g", k+1, r[0], r[1], m, within)
		}
	}
	// 120 to 132 Hz: line 1 moves on by 0.12 of the unit, line 2 by 0.24, more than 4 times 0.05
	got = nil
	rising.Lines(unit, 0, 2, within, tell)
	if len(got) != 1 || math.Abs(got[0][0]-1.15) > 1e-9 || math.Abs(got[0][1]-1.37) > 1e-9 {
		t.Errorf("lines of the rising one at %v, want 1.15 to 1.37 alone", got)
	}
	got = nil
	steady.Lines(unit, 2.1, 3, within, tell)
	if len(got) != 0 {
		t.Errorf("lines at %v after the end", got)
	}
}
