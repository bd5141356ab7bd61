package transform

import (
	"testing"
)

// TestColumns compares the transform in two rounds, which is meant for long
// sequences, with the passes over the whole: the smallest matrix, tall and
// wide ones, factors of three and five.
func TestColumns(t *testing.T) {
	w := &watch{}
	bothWays(t, func(t *testing.T) {
		for _, n := range []int{256, 512, 768, 1024, 1280, 3840, 4096, 1 << 13, 6400, 9 << 10, 1 << 16, 15 << 12} {
			x := floats(complexRandoms(n, 1))
			c := newColumns(n, newCircle(n, w), w)
			if c == nil {
				t.Fatalf("n = %d: no matrix found", n)
			}
			want := newStockham(n, newCircle(n, w), w).plan(w).run(x)
			for range 2 {
				if d := far(numbers(c.clone(w).run(x)), numbers(want)); !(d <= tolerance(n)) {
					t.Errorf("n = %d as %d × %d: off by %.3g, tolerance %.3g", n, c.t.r, c.t.c, d, tolerance(n))
				}
			}
		}
	})
	for _, n := range []int{16, 128, 256 * 7, 1<<16 + 16} {
		if newColumns(n, newCircle(n, w), w) != nil {
			t.Errorf("n = %d: found a matrix, want none", n)
		}
	}
}

// TestLong makes sure that the longest lengths use columns, and that a round
// trip returns the samples.
func TestLong(t *testing.T) {
	n := 2 * long
	p := NewReal(n)
	if _, ok := p.plan.(*halves).t.(*columns); !ok {
		t.Fatalf("n = %d: the plan is %T", n, p.plan.(*halves).t)
	}
	x := randoms(n, 6)
	y := p.Inverse(nil, p.Forward(nil, x))
	scale(y, 1/float64(n))
	if d := far(toComplex(y), toComplex(x)); !(d <= tolerance(n)) {
		t.Errorf("n = %d: round trip is off by %.3g, tolerance %.3g", n, d, tolerance(n))
	}
}

// numbers returns the complex numbers in a sequence of blocks.
func numbers(x []float64) []complex128 {
	z := make([]complex128, len(x)/2)
	interleaveGo(floats(z), x, len(z), 0, len(z))
	return z
}
