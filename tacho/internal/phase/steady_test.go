package phase

import (
	"math"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/sound"
)

// A tone that stands beside the third and fourth line for a while, louder than they are,
// leads their phases away: the rate is that of the lines that nothing passes, within its
// stated uncertainty. That is no less than what all four lines would allow in noise alone,
// and no more than three times what the first two allow, by the bound of Rife and Boorstyn
// 1974 (IEEE Trans. Inf. Theory 20: 591, from memory): var(f) = 6 s^2/(pi^2 A^2 N T^2)
// for one line of amplitude A in N samples over T seconds with noise of variance s^2, and
// for harmonics with the sum of m^2 A_m^2 in the place of A^2.
func TestSteadyIsKnownByTheLinesThatNothingPasses(t *testing.T) {
	const fs, seconds, rate, amp, noise = 8000.0, 8.0, 100.0, 0.1, 0.02
	n := int(fs * seconds)
	bound := func(squares float64) float64 {
		return math.Sqrt(6 * noise * noise / (math.Pi * math.Pi * amp * amp * squares * float64(n) * seconds * seconds))
	}
	for seed := range uint64(8) {
		r := rand.New(rand.NewPCG(seed, 9))
		x := make([]float64, n)
		for i := range x {
			at := float64(i) / fs
			for m := 1.0; m <= 4; m++ {
				x[i] += amp * math.Cos(2*math.Pi*m*rate*at+m*m)
			}
			near := math.Exp(-math.Pow((at-2.5-0.3*float64(seed))/0.4, 2))
			x[i] += near*(0.5*math.Cos(2*math.Pi*301*at)+0.5*math.Cos(2*math.Pi*399.2*at)) + noise*r.NormFloat64()
		}
		src, err := sound.New(func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }, []int{0}, n, fs, fs)
		if err != nil {
			t.Fatal(err)
		}
		f, err := Follow(src, Course{T: []float64{0.001, seconds - 0.001}, Rate: []float64{rate, rate}}, 0.002, Options{Harmonics: 6, Memory: 0.35})
		if err != nil {
			t.Fatal(err)
		}
		s := f.Steady()
		e, sd := s.Omega/(2*math.Pi)-rate, math.Sqrt(s.OmegaVar)/(2*math.Pi)
		if math.Abs(e) > 3.5*sd {
			t.Errorf("%d: the rate is %.3g Hz off, the standard uncertainty %.3g", seed, e, sd)
		}
		if sd < bound(1+4+9+16) || sd > 3*bound(1+4) {
			t.Errorf("%d: standard uncertainty %.3g Hz, by the bound of four lines %.3g, of two %.3g", seed, sd, bound(1+4+9+16), bound(1+4))
		}
	}
}
