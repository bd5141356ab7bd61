package phase

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A rate that falls by 30 Hz per second until it holds at 30 Hz: two straight lines
// that meet. Blocks are some 100 ms long. Within 0.1 s of the kink a motion that is
// found at the blocks alone, cubic between them, misses the lines by 0.22 % (RMS).
func TestAKinkAmidLongBlocksIsFoundWhereItIs(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 3))
	sum, n := 0.0, 0.0
	for range 10 {
		kink := 0.8 + 0.1*r.Float64()
		rate := func(t float64) float64 { return 30 * (1 + math.Max(0, kink-t)) }
		u := newTurning(t, r, 1.8, 25, rate)
		f, err := Follow(u.src, u.truth, 0.003, Options{Harmonics: 8, Memory: 0.35})
		if err != nil || f == nil {
			t.Fatalf("not followed: %v", err)
		}
		for at := kink - 0.1; at < kink+0.1; at += 0.002 {
			a, b := f.Around(at)
			if !(a.T <= at && at <= b.T) {
				t.Fatalf("%.3f s does not lie between %.3f and %.3f s", at, a.T, b.T)
			}
			h := b.T - a.T
			e := cubic((at-a.T)/h, a.Omega, b.Omega, h*a.Alpha, h*b.Alpha)/(2*math.Pi)/rate(at) - 1
			sum += e * e
			n++
		}
	}
	if rms := math.Sqrt(sum / n); rms > 0.0016 {
		t.Errorf("RMS error %.3f %% within 0.1 s of a kink, want at most 0.16", 100*rms)
	}
}

// Empty points change nothing of what is known where the motion is that of one curve.
func TestEmptyPointsChangeNothing(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	var p []Point
	for i := range 40 {
		at := 0.05 * float64(i)
		p = append(p, Point{T: at, Phi: 200*at + 50*at*at + 0.05*r.NormFloat64(), Var: 0.0025})
	}
	prior := Prior{Start: Smooth{Omega: 200}, SD: [3]float64{30, 60, 800}, Q: []float64{100}}
	all, at := filled(p, [][2]float64{{0.4, 1.2}}, 0, 2)
	if len(all) <= len(p) || len(at) != len(p) {
		t.Fatalf("%d points of %d", len(all), len(p))
	}
	own, _ := Run(p, prior)
	with, _ := Run(all, prior)
	for i, k := range at {
		if all[k] != p[i] {
			t.Fatalf("point %d is not at %d", i, k)
		}
		a, b := own[i], with[k]
		if math.Abs(a.Omega-b.Omega) > 1e-6 || math.Abs(a.OmegaVar/b.OmegaVar-1) > 1e-6 {
			t.Errorf("%.2f s: rate %.6f±%.6f, with empty points between %.6f±%.6f", p[i].T, a.Omega, math.Sqrt(a.OmegaVar), b.Omega, math.Sqrt(b.OmegaVar))
		}
	}
	q := gathered(all, make([]float64, len(all)), at)
	if len(q) != len(p) {
		t.Errorf("%d intensities for %d points", len(q), len(p))
	}
}
