package sound

import (
	"math"
	"math/rand/v2"
	"testing"
)

func reader(x ...[]float64) Reader {
	return func(ch, start int, dst []float64) (int, error) { return copy(dst, x[ch][start:]), nil }
}

func TestDecimationKeepsTonesAndStopsAliases(t *testing.T) {
	const fs, n = 48000.0, 48000
	for _, c := range []struct{ f, gain, tol float64 }{
		{50, 1, 1e-3}, {1000, 1, 1e-3}, {6000, 1, 2e-3}, // kept: below 0.42 of 16 kHz
		{10000, 0, 1e-3}, {17000, 0, 1e-3}, {23000, 0, 1e-3}, // stopped
	} {
		x := make([]float64, n)
		for i := range x {
			x[i] = math.Cos(2 * math.Pi * c.f * float64(i) / fs)
		}
		s, err := New(reader(x), []int{0}, n, fs, 16000)
		if err != nil {
			t.Fatal(err)
		}
		if s.Rate != 16000 || s.Frames != n/3 {
			t.Fatalf("rate %v frames %d, want 16000 and %d", s.Rate, s.Frames, n/3)
		}
		b, err := s.Block(nil, 1000, 4000)
		if err != nil {
			t.Fatal(err)
		}
		worst := 0.0
		for i, v := range b[0] {
			want := c.gain * math.Cos(2*math.Pi*c.f*float64(1000+i)/s.Rate)
			worst = math.Max(worst, math.Abs(v-want))
		}
		if worst > c.tol {
			t.Errorf("%v Hz through decimation by 3: off by %.2g, want at most %.2g", c.f, worst, c.tol)
		}
	}
}

func TestIdenticalChannelsCountOnce(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	x := make([]float64, 20000)
	y := make([]float64, len(x))
	for i := range x {
		x[i] = r.NormFloat64()
		y[i] = r.NormFloat64()
	}
	same, err := New(reader(x, x), []int{0, 1}, len(x), 8000, 8000)
	if err != nil {
		t.Fatal(err)
	}
	if same.Channels != 1 {
		t.Errorf("two identical channels became %d, want 1", same.Channels)
	}
	two, _ := New(reader(x, y), []int{0, 1}, len(x), 8000, 8000)
	if two.Channels != 2 {
		t.Errorf("two independent channels became %d, want 2", two.Channels)
	}
	// a tone in antiphase in common noise must be found whole in one channel
	a, b := make([]float64, len(x)), make([]float64, len(x))
	for i := range x {
		tone := 0.5 * math.Cos(2*math.Pi*440*float64(i)/8000)
		a[i], b[i] = x[i]+tone, x[i]-tone
	}
	anti, _ := New(reader(a, b), []int{0, 1}, len(x), 8000, 8000)
	blk, _ := anti.Block(nil, 0, len(x))
	least := math.Inf(1)
	for _, c := range blk {
		e := 0.0
		for _, v := range c {
			e += v * v / float64(len(c))
		}
		least = math.Min(least, e)
	}
	if math.Abs(least-0.25) > 0.02 {
		t.Errorf("quieter channel has power %.3f, want that of the tone alone, 0.25", least)
	}
}
