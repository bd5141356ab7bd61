package transform

import (
	"math"
	"math/cmplx"
	"testing"
)

// somePlans are lengths that between them use every kind of plan and pass.
var somePlans = []int{1, 2, 15, 16, 24, 32, 40, 64, 101, 120, 210, 256, 360, 1024, 1200, 4096, 8192, 1 << 17}

// TestParseval: the energy of the samples is that of the coefficients over n.
func TestParseval(t *testing.T) {
	bothWays(t, func(t *testing.T) {
		for _, n := range somePlans {
			x := randoms(n, 2)
			var e, f float64
			for _, x := range x {
				e += x * x
			}
			for k, p := range NewReal(n).Power(nil, x) {
				if k > 0 && 2*k != n {
					p *= 2 // its mirror image
				}
				f += p
			}
			if d := math.Abs(f/float64(n)/e - 1); !(d <= tolerance(n)) {
				t.Errorf("n = %d: energy differs by %.3g of itself, tolerance %.3g", n, d, tolerance(n))
			}
		}
	})
}

// TestLinearity: the transform of a sum is the sum of the transforms.
func TestLinearity(t *testing.T) {
	const a, b = 1.5, -0.25
	bothWays(t, func(t *testing.T) {
		for _, n := range somePlans {
			p := NewComplex(n)
			x, y := complexRandoms(n, 3), complexRandoms(n, 7)
			z := make([]complex128, n)
			for i := range z {
				z[i] = a*x[i] + b*y[i]
			}
			p.Forward(x, x)
			p.Forward(y, y)
			p.Forward(z, z)
			for i := range x {
				x[i] = a*x[i] + b*y[i]
			}
			if d := far(z, x); !(d <= tolerance(n)) {
				t.Errorf("n = %d: off by %.3g, tolerance %.3g", n, d, tolerance(n))
			}
		}
	})
}

// TestShift: a delay by d samples multiplies X(k) by exp(-2πi kd/n).
func TestShift(t *testing.T) {
	bothWays(t, func(t *testing.T) {
		for _, n := range somePlans {
			d := n / 3
			x := randoms(n, 4)
			y := append(append([]float64(nil), x[n-d:]...), x[:n-d]...)
			p := NewReal(n)
			got, want := p.Forward(nil, y), p.Forward(nil, x)
			for k := range want {
				want[k] *= cmplx.Rect(1, -2*math.Pi*float64(k*d%n)/float64(n))
			}
			if d := far(got, want); !(d <= tolerance(n)) {
				t.Errorf("n = %d: off by %.3g, tolerance %.3g", n, d, tolerance(n))
			}
		}
	})
}

// TestTone: by the sum of a geometric series, a cosine of amplitude a at the
// centre of bin k gives |X(k)| = a n/2 and nothing elsewhere.
func TestTone(t *testing.T) {
	const a = 3
	for _, n := range somePlans {
		if n < 3 {
			continue
		}
		k := (n - 1) / 2
		x := make([]float64, n)
		for i := range x {
			c, _ := root(i*k, n)
			x[i] = a * c
		}
		for j, c := range NewReal(n).Forward(nil, x) {
			want := 0.0
			if j == k {
				want = a * float64(n) / 2
			}
			if d := cmplx.Abs(c - complex(want, 0)); !(d <= tolerance(n)*a*float64(n)) {
				t.Errorf("n = %d: X(%d) = %v, want %v", n, j, c, want)
			}
		}
	}
}
