package transform

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// lengths are all up to 200 and awkward ones: primes, neighbours of powers of
// two, products of small primes, a square of a prime, and every power of two to
// 2^17.
func lengths() []int {
	var ns []int
	for n := 1; n <= 200; n++ {
		ns = append(ns, n)
	}
	for n := 256; n <= 1<<17; n *= 2 {
		ns = append(ns, n)
	}
	return append(ns, 211, 251, 255, 257, 360, 480, 509, 511, 513, 529, 600, 720, 960, 1000,
		1009, 1023, 1025, 1200, 1440, 1536, 1920, 2000, 2047, 2049, 2400, 2401, 2560, 3000, 3072,
		3600, 3840, 4093, 4095, 4097, 4410, 4500, 4800, 5000, 6000, 6144, 6480, 7200, 8191, 8193,
		10007, 44100, 48000, 96000, 1<<17-1, 1<<17+1, 3<<15, 5<<15)
}

// tolerance is how far a coefficient may lie from that of another library, in
// units of the root-mean-square coefficient. The rounding error of a fast
// transform grows with the logarithm of n (Van Loan, section 1.4): 20 unit
// roundoffs for each doubling is several times what is seen. For a prime factor
// p gonum takes plain sums with factors found by repeated multiplication, whose
// error grows like p²; TestAccuracy shows that ours does not.
func tolerance(n int) float64 {
	const unit = 0x1p-53
	t := 20 * (1 + math.Log2(float64(n)))
	if p := largestPrime(n); p > 5 {
		t += 50*float64(p) + 0.5*float64(p*p)
	}
	return t * unit
}

// randoms returns samples from the standard normal distribution.
func randoms(n int, seed uint64) []float64 {
	rnd := rand.New(rand.NewPCG(seed, uint64(n)))
	x := make([]float64, n)
	for i := range x {
		x[i] = rnd.NormFloat64()
	}
	return x
}

func complexRandoms(n int, seed uint64) []complex128 {
	re, im := randoms(n, seed), randoms(n, seed+1)
	x := make([]complex128, n)
	for i := range x {
		x[i] = complex(re[i], im[i])
	}
	return x
}

// far returns the greatest distance between two sequences in units of the
// root mean square of the second.
func far(got, want []complex128) float64 {
	var worst, sum float64
	for i, w := range want {
		worst = max(worst, cmplx.Abs(got[i]-w))
		if d := cmplx.Abs(got[i] - w); math.IsNaN(d) {
			return d
		}
		sum += real(w)*real(w) + imag(w)*imag(w)
	}
	if worst == 0 {
		return 0
	}
	return worst / math.Sqrt(sum/float64(len(want)))
}

func toComplex(x []float64) []complex128 {
	y := make([]complex128, len(x))
	for i, x := range x {
		y[i] = complex(x, 0)
	}
	return y
}

// bothWays runs a test with the vector passes, where the processor has them,
// and with those in plain Go.
func bothWays(t *testing.T, test func(t *testing.T)) {
	if vector {
		t.Run("vector", test)
	}
	t.Run("plain", func(t *testing.T) {
		old := vector
		vector = false
		defer func() { vector = old }()
		test(t)
	})
}

// TestRealAgainstGonum checks forward, power and inverse transforms with
// gonum.org/v1/gonum/dsp/fourier, a translation of Swarztrauber's FFTPACK.
func TestRealAgainstGonum(t *testing.T) {
	coefficients := once(func(n int) []complex128 { return fourier.NewFFT(n).Coefficients(nil, randoms(n, 1)) })
	sequence := once(func(n int) []complex128 {
		// Coefficients that are no spectrum of real samples: the imaginary parts
		// of the first and the last are not to matter.
		c := complexRandoms(n/2+1, 5)
		c[0] = complex(real(c[0]), 0)
		if n%2 == 0 {
			c[n/2] = complex(real(c[n/2]), 0)
		}
		return toComplex(fourier.NewFFT(n).Sequence(nil, c))
	})
	bothWays(t, func(t *testing.T) {
		for _, n := range lengths() {
			x := randoms(n, 1)
			keep := append([]float64(nil), x...)
			p := NewReal(n)
			if p.Len() != n {
				t.Fatalf("NewReal(%d).Len() = %d", n, p.Len())
			}
			tol := tolerance(n)
			if largestPrime(n) > 1000 && n > 5000 {
				// Only the chirp can do these in good time: round trip alone.
				y := p.Inverse(nil, p.Forward(nil, x))
				scale(y, 1/float64(n))
				if d := far(toComplex(y), toComplex(x)); !(d <= tol) {
					t.Errorf("n = %d: round trip is off by %.3g, tolerance %.3g", n, d, tol)
				}
				continue
			}
			want := coefficients(n)
			got := p.Forward(nil, x)
			if d := far(got, want); !(d <= tol) {
				t.Errorf("n = %d: forward is off by %.3g, tolerance %.3g", n, d, tol)
			}
			again := p.Forward(make([]complex128, n/2+1), x)
			for k := range got {
				if got[k] != again[k] {
					t.Fatalf("n = %d: X(%d) = %v, then %v from the same plan", n, k, got[k], again[k])
				}
			}
			if imag(got[0]) != 0 || n%2 == 0 && imag(got[n/2]) != 0 {
				t.Errorf("n = %d: X(0) = %v, X(n/2) = %v, want them real", n, got[0], got[n/2])
			}
			for k, pw := range p.Power(nil, x) {
				if w := real(got[k])*real(got[k]) + imag(got[k])*imag(got[k]); math.Abs(pw-w) > 1e-14*w {
					t.Errorf("n = %d: power %d = %g, want %g", n, k, pw, w)
				}
			}
			y := p.Inverse(nil, got)
			scale(y, 1/float64(n))
			if d := far(toComplex(y), toComplex(x)); !(d <= tol) {
				t.Errorf("n = %d: round trip is off by %.3g, tolerance %.3g", n, d, tol)
			}
			for i := range x {
				if x[i] != keep[i] {
					t.Fatalf("n = %d: the transform changed its input", n)
				}
			}
			c := complexRandoms(n/2+1, 5)
			if e := far(toComplex(p.Inverse(nil, c)), sequence(n)); !(e <= tol) {
				t.Errorf("n = %d: inverse is off by %.3g, tolerance %.3g", n, e, tol)
			}
		}
	})
}

// once returns f with a memory of its results.
func once(f func(n int) []complex128) func(n int) []complex128 {
	known := map[int][]complex128{}
	return func(n int) []complex128 {
		if _, ok := known[n]; !ok {
			known[n] = f(n)
		}
		return known[n]
	}
}

// TestComplexAgainstGonum does the same for complex samples, in place and not.
func TestComplexAgainstGonum(t *testing.T) {
	coefficients := once(func(n int) []complex128 { return fourier.NewCmplxFFT(n).Coefficients(nil, complexRandoms(n, 1)) })
	sequence := once(func(n int) []complex128 { return fourier.NewCmplxFFT(n).Sequence(nil, complexRandoms(n, 1)) })
	bothWays(t, func(t *testing.T) {
		for _, n := range lengths() {
			if largestPrime(n) > 1000 && n > 5000 {
				continue
			}
			x := complexRandoms(n, 1)
			keep := append([]complex128(nil), x...)
			p := NewComplex(n)
			if p.Len() != n {
				t.Fatalf("NewComplex(%d).Len() = %d", n, p.Len())
			}
			tol := tolerance(n)
			if d := far(p.Forward(nil, x), coefficients(n)); !(d <= tol) {
				t.Errorf("n = %d: forward is off by %.3g, tolerance %.3g", n, d, tol)
			}
			if d := far(p.Inverse(nil, x), sequence(n)); !(d <= tol) {
				t.Errorf("n = %d: inverse is off by %.3g, tolerance %.3g", n, d, tol)
			}
			for i := range x {
				if x[i] != keep[i] {
					t.Fatalf("n = %d: the transform changed its input", n)
				}
			}
			p.Inverse(x, p.Forward(x, x))
			for i := range x {
				x[i] /= complex(float64(n), 0)
			}
			if d := far(x, keep); !(d <= tol) {
				t.Errorf("n = %d: round trip in place is off by %.3g, tolerance %.3g", n, d, tol)
			}
		}
	})
}

func scale(x []float64, a float64) {
	for i := range x {
		x[i] *= a
	}
}

// TestClone runs clones at the same time on different samples.
func TestClone(t *testing.T) {
	for _, n := range somePlans {
		r, c := NewReal(n), NewComplex(n)
		for i := range 4 {
			x, z := randoms(n, uint64(i)), complexRandoms(n, uint64(i))
			want, wantc := NewReal(n).Forward(nil, x), NewComplex(n).Forward(nil, z)
			r, c := r.Clone(), c.Clone()
			t.Run(fmt.Sprint(n), func(t *testing.T) {
				t.Parallel()
				for range 3 {
					if d := far(r.Forward(nil, x), want); d != 0 {
						t.Errorf("a clone of the real plan is off by %g", d)
					}
					if d := far(c.Forward(nil, z), wantc); d != 0 {
						t.Errorf("a clone of the complex plan is off by %g", d)
					}
					y := r.Inverse(nil, want)
					scale(y, 1/float64(n))
					if d := far(toComplex(y), toComplex(x)); !(d <= tolerance(n)) {
						t.Errorf("a clone's round trip is off by %g", d)
					}
				}
			})
		}
	}
}

// TestNoAllocation: a plan in use allocates nothing.
func TestNoAllocation(t *testing.T) {
	bothWays(t, func(t *testing.T) {
		for _, n := range somePlans {
			r, c := NewReal(n), NewComplex(n)
			x, y, p, z := make([]float64, n), make([]complex128, n/2+1), make([]float64, n/2+1), make([]complex128, n)
			if got := testing.AllocsPerRun(2, func() {
				r.Forward(y, x)
				r.Power(p, x)
				r.Inverse(x, y)
				c.Forward(z, z)
				c.Inverse(z, z)
			}); got != 0 {
				t.Errorf("n = %d: %v allocations, want none", n, got)
			}
		}
	})
}

// TestWrongLengths: the caller's mistakes panic, before anything is written.
func TestWrongLengths(t *testing.T) {
	r, c := NewReal(8), NewComplex(8)
	for name, f := range map[string]func(){
		"NewReal(0)":             func() { NewReal(0) },
		"NewComplex(-1)":         func() { NewComplex(-1) },
		"Real.Forward src":       func() { r.Forward(nil, make([]float64, 7)) },
		"Real.Forward dst":       func() { r.Forward(make([]complex128, 8), make([]float64, 8)) },
		"Real.Inverse src":       func() { r.Inverse(nil, make([]complex128, 8)) },
		"Real.Inverse dst":       func() { r.Inverse(make([]float64, 5), make([]complex128, 5)) },
		"Real.Power dst":         func() { r.Power(make([]float64, 8), make([]float64, 8)) },
		"Complex.Forward src":    func() { c.Forward(nil, nil) },
		"Complex.Inverse dst":    func() { c.Inverse(make([]complex128, 9), make([]complex128, 8)) },
		"Complex.Forward of dst": func() { c.Forward(make([]complex128, 7), make([]complex128, 8)) },
	} {
		t.Run(name, func(t *testing.T) {
			defer func() {
				if recover() == nil {
					t.Error("no panic")
				}
			}()
			f()
		})
	}
}

// TestManyFactors transforms a length with more factors than gonum has room for:
// 2·3^13. A cosine of 1,000 periods is one line, by the definition.
func TestManyFactors(t *testing.T) {
	const n, k = 2 * 1594323, 1000
	bothWays(t, func(t *testing.T) {
		x := make([]float64, n)
		for j := range x {
			x[j], _ = root(j*k%n, n)
		}
		for i, X := range NewReal(n).Forward(nil, x) {
			want := complex128(0)
			if i == k {
				want = n / 2
			}
			if d := cmplx.Abs(X - want); !(d <= 1e-9*n) {
				t.Fatalf("coefficient %d is %v, want %v", i, X, want)
			}
		}
	})
}
