package transform

import (
	"math"
	"math/big"
	"math/cmplx"
	"testing"
)

// TestAccuracy compares with the definition, summed in twice the precision.
//
// The error of a coefficient is given in units of 2^-53 times the
// root-mean-square coefficient. The bounds are about twice the worst error that
// was seen for each kind of length over normally distributed samples.
func TestAccuracy(t *testing.T) {
	for _, c := range []struct {
		kind  string
		n     []int
		bound float64
	}{
		{"own passes", []int{16, 32, 40, 48, 64, 80, 128, 240, 256, 360, 512, 1024, 1200, 2000, 2048, 4096, 4800, 8192}, 12},
		{"own passes, long", []int{1 << 16, 1 << 17, 1 << 18}, 15},
		{"chirp", []int{53, 97, 101, 257, 509, 1009, 2047, 4093, 4097, 8191, 10007, 44100}, 30},
		{"gonum", []int{1, 2, 3, 5, 9, 15, 25, 27, 45, 75, 125, 225, 405, 900}, 30},
	} {
		t.Run(c.kind, func(t *testing.T) {
			for _, n := range c.n {
				x := randoms(n, 11)
				rms := math.Sqrt(float64(n))
				// At most 40 coefficients, fewer of a long sequence.
				step := max(1, n/2/min(40, max(3, 2_000_000/n))) | 1
				sum := definition(n)
				want := map[int]complex128{}
				for k := 0; k <= n/2; k += step {
					want[k] = sum(x, k)
				}
				bothWays(t, func(t *testing.T) {
					got := NewReal(n).Forward(nil, x)
					var worst float64
					for k, want := range want {
						d := cmplx.Abs(got[k]-want) / rms * 0x1p53
						if !(d <= worst) {
							worst = d
						}
					}
					t.Logf("n = %d: %.2f units", n, worst)
					if !(worst <= c.bound) {
						t.Errorf("n = %d: off by %.2f units, bound %g", n, worst, c.bound)
					}
				})
			}
		})
	}
}

// definition returns a function that computes X(k) of n real samples as the
// plain sum, carrying about 100 bits.
func definition(n int) func(x []float64, k int) complex128 {
	c, s := preciseRoots(n)
	return func(x []float64, k int) complex128 {
		var re, im double
		for j, x := range x {
			i := j * k % n
			re = re.add(c[i].times(x))
			im = im.add(s[i].times(-x))
		}
		return complex(re.hi, im.hi)
	}
}

// double is the unevaluated sum of two numbers, the second below the rounding
// of the first (T. J. Dekker, A floating-point technique for extending the
// available precision, 1971).
type double struct{ hi, lo float64 }

func (a double) add(b double) double {
	s := a.hi + b.hi
	v := s - a.hi
	e := (a.hi - (s - v)) + (b.hi - v) + a.lo + b.lo
	hi := s + e
	return double{hi, e - (hi - s)}
}

func (a double) times(x float64) double {
	p := a.hi * x
	e := math.FMA(a.hi, x, -p) + a.lo*x
	hi := p + e
	return double{hi, e - (hi - p)}
}

// preciseRoots returns cos and sin of 2πk/n for k = 0 … n-1: the series for
// the first, repeated multiplication for the others, all with 160 bits.
func preciseRoots(n int) (cos, sin []double) {
	const prec = 160
	num := func(x float64) *big.Float { return new(big.Float).SetPrec(prec).SetFloat64(x) }
	// π to 60 digits (OEIS A000796).
	a, _, err := big.ParseFloat("3.14159265358979323846264338327950288419716939937510582097494", 10, prec, big.ToNearestEven)
	if err != nil {
		panic(err)
	}
	a.Quo(a.Mul(a, num(2)), num(float64(n)))
	c1, s1, term := num(0), num(0), num(1)
	for i := 0; i < 80; i++ {
		switch i % 4 {
		case 0:
			c1.Add(c1, term)
		case 1:
			s1.Add(s1, term)
		case 2:
			c1.Sub(c1, term)
		case 3:
			s1.Sub(s1, term)
		}
		term.Quo(term.Mul(term, a), num(float64(i+1)))
	}
	split := func(x *big.Float) double {
		hi, _ := x.Float64()
		lo, _ := num(0).Sub(x, num(hi)).Float64()
		return double{hi, lo}
	}
	c, s := num(1), num(0)
	u, v := num(0), num(0)
	for range n {
		cos, sin = append(cos, split(c)), append(sin, split(s))
		nc := num(0).Sub(u.Mul(c, c1), v.Mul(s, s1))
		s = num(0).Add(u.Mul(s, c1), v.Mul(c, s1))
		c = nc
	}
	return cos, sin
}

// TestRoots: the twiddle factors are right to the last place.
func TestRoots(t *testing.T) {
	const half = 0x1p-53 // half a unit in the last place of numbers near 1
	for _, n := range []int{1, 2, 3, 7, 8, 12, 16, 45, 1000, 4096, 5000} {
		cos, sin := preciseRoots(n)
		circle := newCircle(8*n, &watch{})
		for k := -n; k < 2*n; k++ {
			c, s := root(k, n)
			if k >= 0 {
				if cc, ss := circle.root(k, n); cc != c || ss != s {
					t.Errorf("circle.root(%d, %d) = %v, %v, want %v, %v", k, n, cc, ss, c, s)
				}
			}
			i := (k + n) % n
			if d := math.Max(math.Abs(c-cos[i].hi-cos[i].lo), math.Abs(s-sin[i].hi-sin[i].lo)); !(d <= 1.5*half) {
				t.Errorf("root(%d, %d) is off by %.2f half units", k, n, d/half)
			}
		}
	}
}
