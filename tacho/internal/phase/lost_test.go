package phase

import (
	"math"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/sound"
)

// falling is a sound whose rate holds at 1240 Hz and falls by 300 % per second from
// 0.3 s on.
func falling(t *testing.T) (src *sound.Source, rate func(t float64) float64) {
	t.Helper()
	const fs, seconds = 8000.0, 0.7
	rate = func(t float64) float64 { return 1240 * math.Exp(-3*math.Max(0, t-0.3)) }
	r := rand.New(rand.NewPCG(5, 12))
	x := make([]float64, int(fs*seconds))
	phi := 0.0
	for i := range x {
		phi += 2 * math.Pi * rate(float64(i)/fs) / fs
		x[i] = math.Cos(phi) + 0.3*math.Cos(2*phi+1) + 0.1*r.NormFloat64()
	}
	src, err := sound.New(func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }, []int{0}, len(x), fs, fs)
	if err != nil {
		t.Fatal(err)
	}
	return src, rate
}

// A course that is rounded over 64 ms misses the lines at a kink by half a turn from
// block to block; the fit must find them all the same.
func TestLinesLostAtAKinkAreFoundAgain(t *testing.T) {
	src, rate := falling(t)
	var c Course
	for at := 0.0; at < 0.7; at += 0.02 {
		mean := 0.0
		for k := -16; k <= 16; k++ {
			mean += rate(at+0.004*float64(k)) / 33
		}
		c.T, c.Rate = append(c.T, at), append(c.Rate, mean)
	}
	f, err := Follow(src, c, 0.003, Options{Harmonics: 6, Memory: 0.35})
	if err != nil || f == nil {
		t.Fatalf("Follow: %v", err)
	}
	for i, m := range f.Motion {
		at := f.Blocks[i].T
		if e := m.Omega/(2*math.Pi)/rate(at) - 1; math.Abs(e) > 0.003 {
			t.Errorf("%.3f s: %.2f Hz, truth %.2f", at, m.Omega/(2*math.Pi), rate(at))
		}
	}
	if f.Coherence < 0.98 {
		t.Errorf("coherence %.3f, want all of the power of clean lines", f.Coherence)
	}
}

// Two straight lines meet where their equations say.
func TestBentCourseRunsStraightToTheKink(t *testing.T) {
	c := Course{T: []float64{0, 1, 2, 3, 4}, Rate: []float64{10, 10, 11, 14, 16}}
	turn := 2 * math.Pi
	got := c.bent(1, Smooth{Omega: 10 * turn}, 3, Smooth{Omega: 14 * turn, Alpha: 2.5 * turn})
	for _, v := range [...][2]float64{{0, 10}, {1, 10}, {1.4, 10}, {2, 11.5}, {3, 14}, {4, 16}} {
		if r := got.At(v[0]); math.Abs(r-v[1]) > 1e-9 {
			t.Errorf("rate at %g: %g, want %g", v[0], r, v[1])
		}
	}
	same := c.bent(1, Smooth{Omega: 10 * turn}, 3, Smooth{Omega: 14 * turn, Alpha: -turn})
	if len(same.T) != len(c.T) || same.At(2) != 11 {
		t.Error("lines that do not meet between changed the course")
	}
}

// Of blocks whose lines keep most of their power in phase, those at the ends that keep
// next to nothing of theirs are left out, up to one that is within the three looked at;
// those that have no power, or keep it, stay.
func TestAgreeingLeavesOutEndsThatKeepNoPhase(t *testing.T) {
	const n = 40
	result := func(share func(i int) float64) *Result {
		l := &locked{}
		r := &Result{}
		noise := make([]float64, n)
		for i := range n {
			at := 0.01 * float64(i)
			l.blocks = append(l.blocks, Block{T: at, Length: 0.02})
			l.kept, l.all = append(l.kept, 100*share(i)), append(l.all, 100)
			if share(i) == 0 {
				l.all[i] = 1
			}
			r.Motion = append(r.Motion, Smooth{Phi: 300 * at, Omega: 300})
			r.Points = append(r.Points, Point{T: at, Phi: 300 * at, Var: 1e-4})
			noise[i] = float64(i)
		}
		r.Blocks, r.SNR, r.noise = l.blocks, make([]float64, n), [][][]float64{{noise}}
		r.prior = Prior{Start: r.Motion[0], SD: [3]float64{30, 100, 1200}, Q: []float64{1}}
		r.from, r.to = l.agreeing()
		return r.Agreeing()
	}
	for name, c := range map[string]struct {
		share       func(i int) float64
		first, last int
	}{
		"all agree":            {func(int) float64 { return 0.9 }, 0, n - 1},
		"the first six do not": {func(i int) float64 { return map[bool]float64{true: 0.1, false: 0.9}[i < 6] }, 5, n - 1},
		"the last six do not":  {func(i int) float64 { return map[bool]float64{true: 0.1, false: 0.9}[i >= n-6] }, 0, n - 6},
		"the first are silent": {func(i int) float64 { return map[bool]float64{true: 0, false: 0.9}[i < 6] }, 0, n - 1},
		"some amid do not":     {func(i int) float64 { return map[bool]float64{true: 0.1, false: 0.9}[i/6 == 3] }, 0, n - 1},
	} {
		r := result(c.share)
		k := len(r.Blocks)
		if k != len(r.Points) || k != len(r.Motion) || k != len(r.SNR) || r.Blocks[0].T != 0.01*float64(c.first) || r.Blocks[k-1].T != 0.01*float64(c.last) {
			t.Errorf("%s: %d blocks, %g to %g s", name, k, r.Blocks[0].T, r.Blocks[k-1].T)
		}
		if got := r.Noise(0, 0, 0); got != float64(c.first) {
			t.Errorf("%s: the first block has the noise of block %g", name, got)
		}
	}
}
