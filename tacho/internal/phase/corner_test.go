package phase

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"rotorhum/tacho/internal/sound"
)

// The phase of a Butterworth high-pass is that of its transfer function, s^n over the
// product of s less each pole, whose poles lie evenly on the left half of a circle
// (Butterworth 1930, Wireless Engineer 7: 536, from memory), and the delay is how fast the
// phase falls.
func TestThePhaseOfAHighPass(t *testing.T) {
	for order := 1; order <= 8; order++ {
		h := butterworth(order)
		response := func(x float64) complex128 {
			s, v := complex(0, x), complex(1, 0)
			for k := range order {
				pole := cmplx.Exp(complex(0, math.Pi*(0.5+float64(2*k+1)/float64(2*order))))
				v *= s / (s - pole)
			}
			return v
		}
		for _, x := range []float64{0.1, 0.7, 1, 1.5, 4, 30} {
			turned := response(x) * cmplx.Exp(complex(0, -h.phase(x)))
			if math.Abs(cmplx.Phase(turned)) > 1e-12 {
				t.Errorf("order %d at %g corners: phase %.6f, want %.6f", order, x, h.phase(x), cmplx.Phase(response(x)))
			}
			const d = 1e-5
			want := cmplx.Phase(response(x-d)/response(x+d)) / (2 * d)
			if math.Abs(h.delay(x)/want-1) > 1e-6 {
				t.Errorf("order %d at %g corners: delay %.6f, want %.6f", order, x, h.delay(x), want)
			}
		}
	}
}

// highPassed filters x by a section of second order, by the bilinear transform.
func highPassed(x []float64, corner, damp, fs float64) {
	c := math.Tan(math.Pi * corner / fs)
	a0 := 1 + damp*c + c*c
	a1, a2 := 2*(c*c-1)/a0, (1-damp*c+c*c)/a0
	var x1, x2, y1, y2 float64
	for i, v := range x {
		y := (v-2*x1+x2)/a0 - a1*y1 - a2*y2
		x2, x1, y2, y1 = x1, v, y1, y
		x[i] = y
	}
}

// A filter delays the lines near its corner, and one that is run forwards and backwards
// delays none, whatever it leaves of them. Of either the motion comes neither late nor
// early, and its intervals hold: where the rate changes by a fifth per second or swings,
// whatever the corner, and for a damping that is none of those known.
func TestACornerMakesNoMotionLate(t *testing.T) {
	const fs, seconds = 8000, 8.0
	r := rand.New(rand.NewPCG(11, 12))
	rates := map[string]func(t float64) float64{
		"ramp":  func(t float64) float64 { return 20 * math.Exp(0.15*math.Max(0, math.Min(t-1, 6))) },
		"swing": func(t float64) float64 { return 26 * (1 + 0.08*math.Sin(2*math.Pi*0.35*t)) },
	}
	for name, rate := range rates {
		for _, twice := range []bool{false, true} {
			held, all, late, slopes := 0.0, 0.0, 0.0, 0.0
			for _, corner := range []float64{90, 150, 210} {
				x := make([]float64, int(seconds*fs))
				phases := make([]float64, 24)
				for m := range phases {
					phases[m] = 2 * math.Pi * r.Float64()
				}
				phi := 0.0
				for i := range x {
					for m, p := range phases {
						x[i] += math.Cos(float64(m+1)*phi+p) / float64(m+1)
					}
					x[i] += 0.3 * r.NormFloat64()
					phi += 2 * math.Pi * rate((float64(i)+0.5)/fs) / fs
				}
				highPassed(x, corner, 1.2, fs)
				if twice {
					slices.Reverse(x)
					highPassed(x, corner, 1.2, fs)
					slices.Reverse(x)
				}
				src, err := sound.New(func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }, []int{0}, len(x), fs, fs)
				if err != nil {
					t.Fatal(err)
				}
				var rough Course
				for at := 0.0; at <= seconds; at += 0.1 {
					rough.Add(at, rate(at), 0)
				}
				f, err := Follow(src, rough, 0.005, Options{Harmonics: 24, Memory: 0.35})
				if err != nil || f == nil {
					t.Fatalf("%s: not followed: %v", name, err)
				}
				if twice != (f.Corner == 0) {
					t.Errorf("%s, twice %v: a corner at %.1f Hz", name, twice, f.Corner)
				}
				for i, m := range f.Motion {
					at := f.Blocks[i].T
					e := m.Omega - 2*math.Pi*rate(at)
					const d = 1e-4
					alpha := 2 * math.Pi * (rate(at+d) - rate(at-d)) / (2 * d)
					late -= e * alpha
					slopes += alpha * alpha
					if all++; math.Abs(e) < 1.96*math.Sqrt(m.OmegaVar) {
						held++
					}
				}
			}
			if late /= slopes; math.Abs(late) > 3e-4 {
				t.Errorf("%s, twice %v: %.2f ms late", name, twice, 1000*late)
			}
			if held /= all; held < 0.85 {
				t.Errorf("%s, twice %v: %.0f %% of the intervals hold, want 95", name, twice, 100*held)
			}
		}
	}
}

// Of lines that come and go those are kept that say most, each with its own sights.
func TestTheHeaviestSightsAreKept(t *testing.T) {
	s := &sights{orders: []int{1, 2, 3, 4}}
	for line, w := range []float64{1, 9, 0.1, 4} { // times the square of the order 1, 36, 0.9, 64
		for span := range 3 {
			s.all = append(s.all, sight{y: float64(line), w: w, order: float64(line + 1), line: line, span: span})
		}
	}
	if s.keep(4); len(s.all) != 12 {
		t.Fatalf("%d sights of 4 lines, want 12", len(s.all))
	}
	s.keep(2)
	if !slices.Equal(s.orders, []int{2, 4}) || len(s.all) != 6 {
		t.Fatalf("orders %v with %d sights, want 2 and 4 with 6", s.orders, len(s.all))
	}
	for _, v := range s.all {
		if s.orders[v.line] != int(v.order) || v.y != v.order-1 {
			t.Errorf("%+v is said to be of order %d", v, s.orders[v.line])
		}
	}
}
