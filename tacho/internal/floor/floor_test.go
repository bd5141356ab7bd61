package floor

import (
	"math"
	"math/rand/v2"
	"testing"
)

func noise(seed uint64, n int, level func(k int) float64) []float64 {
	r := rand.New(rand.NewPCG(seed, 1))
	p := make([]float64, n)
	for k := range p {
		p[k] = level(k) * r.ExpFloat64()
	}
	return p
}

func TestFloorFollowsColouredNoise(t *testing.T) {
	level := func(k int) float64 { return 5 / (1 + float64(k)/500) }
	f := Estimate(nil, noise(1, 8192, level), 96, 0.3)
	worst := 0.0
	for k := 200; k < 8000; k++ {
		worst = math.Max(worst, math.Abs(math.Log(f[k]/level(k))))
	}
	// blocks of 96 values know their quantile to some 12 %: three times that
	if worst > 0.4 {
		t.Errorf("floor is off by a factor of up to %.2f", math.Exp(worst))
	}
}

func TestFloorBearsLines(t *testing.T) {
	p := noise(2, 4096, func(int) float64 { return 1 })
	for k := 10; k < len(p); k += 10 {
		p[k], p[k+1-1] = 1e5, 1e5
		p[k-1] = 1e4 // a fifth of all bins belong to lines
	}
	f := Estimate(nil, p, 96, 0)
	mean := 0.0
	for _, v := range f {
		mean += math.Log(v) / float64(len(f))
	}
	// the 0.4 quantile of all is the 0.5 quantile of what is noise: 1.36 times
	if want := math.Log(math.Log(2) / -math.Log(0.6)); math.Abs(mean-want) > 0.15 {
		t.Errorf("mean log floor %.3f, want %.3f", mean, want)
	}
}

func TestFloorOfSilenceIsZero(t *testing.T) {
	for _, v := range Estimate(nil, make([]float64, 100), 16, 0) {
		if v != 0 {
			t.Fatalf("floor of silence %v, want 0", v)
		}
	}
	if got := Estimate(nil, nil, 16, 0); len(got) != 0 {
		t.Errorf("floor of nothing has %d bins", len(got))
	}
}
