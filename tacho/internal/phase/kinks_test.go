package phase

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// The mean of (t-a)²/2 behind a, under a Hann window, by summing it up.
func TestMeanOfARampUnderAHannWindow(t *testing.T) {
	for u := -0.7; u < 0.75; u += 0.05 {
		const n = 20000
		sum := 0.0
		for i := range n {
			x := (float64(i)+0.5)/n - 0.5
			d := math.Max(0, x+u)
			sum += (1 + math.Cos(2*math.Pi*x)) * d * d / 2 / n
		}
		if got := hannRamp(u); math.Abs(got-sum) > 1e-8 {
			t.Errorf("%g behind: %.9f, want %.9f", u, got, sum)
		}
		if got := hannMean(func(x float64) float64 { return math.Pow(math.Max(0, x+0.3), 2) / 2 }, 1); math.Abs(got-hannRamp(0.3)) > 1e-4 {
			t.Errorf("by samples %.6f, want %.6f", got, hannRamp(0.3))
		}
	}
}

// A rate holds, falls along a straight line or by equal ratios from one moment to another,
// and holds again. Who knows that, but not the two rates, the slope, the two moments nor
// the phases of the lines, has the variance of the Cramér-Rao bound, the inverse of the
// Fisher information of phases in white noise. The smoother, which has to find out, must
// come within twice its root around the kinks, where blocks are 50 to 80 ms long, and its
// intervals of 95 % must hold the rates there. (Without kinks of its own it misses by 44 and
// 24 times.)
func TestKinksAreFoundToTheBound(t *testing.T) {
	for _, c := range [...]struct {
		name string
		rate func(t float64, p []float64) float64 // of: the rate, the slope, the moments
	}{
		{"straight", func(t float64, p []float64) float64 {
			return p[0] - p[1]*(math.Max(0, t-p[2])-math.Max(0, t-p[3]))
		}},
		{"equal ratios", func(t float64, p []float64) float64 {
			return p[0] * math.Exp(-p[1]/p[0]*(math.Max(0, t-p[2])-math.Max(0, t-p[3])))
		}},
	} {
		r := rand.New(rand.NewPCG(9, 4))
		const seconds, snr, draws, fs = 1.6, 15.0, 12, 8000.0
		sum, bound, in, all := 0.0, 0.0, 0.0, 0.0
		for range draws {
			own := []float64{80 * (1 + 0.1*r.Float64()), 150, 0.6 + 0.1*r.Float64(), 0.85 + 0.1*r.Float64()}
			u := newTurning(t, r, seconds, snr, func(t float64) float64 { return c.rate(t, own) })
			var rough Course // the rate, rounded
			for at := 0.0; at <= seconds; at += 0.02 {
				mean := 0.0
				for d := -0.05; d < 0.051; d += 0.01 {
					mean += c.rate(at+d, own) / 11
				}
				rough.Add(at, mean, 0.01)
			}
			f, err := Follow(u.src, rough, 0.003, Options{Harmonics: 8, Memory: 0.35})
			if err != nil || f == nil {
				t.Fatalf("%s: not followed: %v", c.name, err)
			}
			info := u.information(snr)
			// by how much the rate at t changes with each of the unknowns
			change := func(t float64) *mat.VecDense {
				v := mat.NewVecDense(len(own), nil)
				for k := range own {
					const d = 1e-5
					up, down := append([]float64(nil), own...), append([]float64(nil), own...)
					up[k], down[k] = up[k]+d, down[k]-d
					v.SetVec(k, (c.rate(t, up)-c.rate(t, down))/(2*d))
				}
				return v
			}
			// of the common phase and of these
			fisher, row := mat.NewSymDense(5, nil), mat.NewVecDense(5, nil)
			row.SetVec(0, 1)
			for i := range int(seconds * fs) {
				fisher.SymRankOne(fisher, info, row)
				d := change((float64(i) + 0.5) / fs)
				for k := range own {
					row.SetVec(k+1, row.AtVec(k+1)+2*math.Pi*d.AtVec(k)/fs)
				}
			}
			var cov mat.Dense
			if err := cov.Inverse(fisher); err != nil {
				t.Fatal(err)
			}
			for _, kink := range own[2:] {
				for at := kink - 0.06; at < kink+0.06; at += 0.005 {
					a, b := f.Around(at)
					h := b.T - a.T
					e := cubic((at-a.T)/h, a.Omega, b.Omega, h*a.Alpha, h*b.Alpha)/(2*math.Pi) - c.rate(at, own)
					sum += e * e
					all++
					if 2*math.Pi*math.Abs(e) < 1.96*math.Sqrt(math.Max(a.OmegaVar, b.OmegaVar)) {
						in++
					}
					d := change(at)
					bound += mat.Inner(d, cov.Slice(1, 5, 1, 5), d)
				}
			}
		}
		if ratio := math.Sqrt(sum / bound); ratio > 2 || ratio < 0.5 {
			t.Errorf("%s: RMS error %.2f times the bound, want at most 2", c.name, ratio)
		}
		if in < 0.92*all {
			t.Errorf("%s: %.1f %% of the rates around the kinks lie within the intervals of 95 %%", c.name, 100*in/all)
		}
	}
}

// Of moments found in white noise 95 % lie within 1.96 standard deviations (of 800, four
// standard deviations of a share are 3.1 %), along straight lines and along equal ratios.
func TestMomentsOfKinksAreKnownAsStated(t *testing.T) {
	const draws, first, step, length, sd = 400, 400.0, 0.025, 0.05, 5e-3
	for _, c := range [...]struct {
		name  string
		bends bool
		phase func(h float64) float64 // from the first kink on, until the second
		after float64                 // the rate there
	}{
		{"straight", false, func(h float64) float64 { return first*h - 900*h*h/2 }, first - 900*0.3},
		{"equal ratios", true, func(h float64) float64 { return first * (1 - math.Exp(-2.2*h)) / 2.2 }, first * math.Exp(-2.2*0.3)},
	} {
		r := rand.New(rand.NewPCG(7, 1))
		in := 0
		for range draws {
			a := 0.3 + step*r.Float64()
			b := a + 0.3
			phase := func(t float64) float64 {
				return first*math.Min(t, a) + c.phase(math.Max(0, math.Min(t, b)-a)) + c.after*math.Max(0, t-b)
			}
			k := &kinkFit{near: []float64{0.3, 0.6}}
			for i := range 37 {
				at := float64(i) * step
				seen := hannMean(func(d float64) float64 { return phase(at + d) }, length)
				k.p = append(k.p, Point{T: at, Phi: seen + sd*r.NormFloat64(), Var: sd * sd})
				k.length, k.mean = append(k.length, length), append(k.mean, 0)
			}
			if !k.find(c.bends) {
				t.Fatalf("%s: not found", c.name)
			}
			for j, at := range [...]float64{a, b} {
				if math.Abs(k.x[j]-at) < 1.96*k.sd[j] {
					in++
				}
			}
		}
		if share := float64(in) / (2 * draws); math.Abs(share-0.95) > 0.031 {
			t.Errorf("%s: %.1f %% of the moments lie within the intervals of 95 %%", c.name, 100*share)
		}
	}
}

// Around a round top a motion with a kink misses no less than one without, as smooth as a
// polynomial: there is none. Where a rate that rises falls from one moment on there is.
func TestRoundTopIsNoKink(t *testing.T) {
	const step, length, sd, top = 0.02, 0.06, 2e-3, 0.31
	for _, c := range []struct {
		name  string
		phase func(t float64) float64
		want  bool
	}{
		{"round", func(t float64) float64 { return 200*t + 2*math.Sin(2*(t-top)) }, false},
		{"kink", func(t float64) float64 { return 280*t - 80*math.Abs(t-top)*(t-top) }, true},
	} {
		r := rand.New(rand.NewPCG(7, 1))
		for range 10 {
			k := &kinkFit{near: []float64{0.3}}
			for i := range 31 {
				at := float64(i) * step
				seen := hannMean(func(d float64) float64 { return c.phase(at + d) }, length)
				k.p = append(k.p, Point{T: at, Phi: seen + sd*r.NormFloat64(), Var: sd * sd})
				k.length, k.mean = append(k.length, length), append(k.mean, 0)
			}
			if got := k.find(false); got != c.want || got && math.Abs(k.x[0]-top) > 5*k.sd[0] {
				t.Errorf("%s: found %v at %.4f, known to %v; want %v at %g", c.name, got, k.x[0], k.sd, c.want, top)
			}
		}
	}
}
