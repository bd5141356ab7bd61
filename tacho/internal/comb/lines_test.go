package comb

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestContrastFlattensAPlateauAndKeepsLines(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 9))
	const n = 512
	l, floor, ev := newLines(n), make([]float32, n), make([]float32, n)
	plateau := make([]float64, n)
	for k := range plateau {
		plateau[k] = 100 * r.ExpFloat64()
	}
	l.weigh(ev, plateau, floor, frameCurve())
	mean := 0.0
	for _, v := range l.u {
		mean += math.Exp2(float64(v)) / n
	}
	if mean > 1.6 {
		t.Errorf("a plateau of 100 keeps a mean of %.2f, want about 1", mean)
	}
	lines := make([]float64, n)
	for k := range lines {
		lines[k] = r.ExpFloat64()
		if k%20 == 10 {
			lines[k] = 400
		}
	}
	clear(ev)
	l.weigh(ev, lines, floor, frameCurve())
	for k := 10; k < n; k += 20 {
		if v := math.Exp2(float64(l.u[k])); v < 100 {
			t.Errorf("the line at bin %d of 400 is left with %.1f", k, v)
		}
		if ev[k] < 5 {
			t.Errorf("the line at bin %d has an evidence of %.1f nats, want more than 5", k, ev[k])
		}
	}
}

func TestLogarithm(t *testing.T) {
	for x := 1e-30; x < 1e30; x *= 1.37 {
		if d := float64(log2(float32(x))) - math.Log2(x); math.Abs(d) > 0.0005 {
			t.Errorf("log2(%g) is off by %.5f, want at most 0.0005", x, d)
		}
	}
	if v := log2(0); v > -100 {
		t.Errorf("log2(0) = %v, want a number below -100", v)
	}
}

func TestVectorsWeighAsPlainGoDoes(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 9))
	for _, n := range []int{5, 8, 40, 513, 1025} {
		power, floor := make([]float64, n), make([]float32, n)
		for k := range power {
			power[k] = 1e-9 * r.ExpFloat64() * math.Exp(3*r.NormFloat64())
			floor[k] = float32(-30 + r.NormFloat64())
		}
		power[n/2] = 0
		l, ev := newLines(n), make([]float32, n)
		for k := range ev {
			ev[k] = r.Float32()
		}
		want := slices.Clone(ev)
		l.weigh(ev, power, floor, frameCurve())
		// the same in plain Go
		p := newLines(n)
		logarithmsGo(p.u, p.sum[contrastHalf+1:], power, floor, 0)
		for k := contrastHalf + n + 1; k < len(p.sum); k++ {
			p.sum[k] = p.sum[contrastHalf+n]
		}
		contrastGo(want, p.u, p.sum, p.share, frameCurve())
		for k := range want {
			if math.Abs(float64(l.u[k]-p.u[k])) > 1e-4 || math.Abs(float64(ev[k]-want[k])) > 2e-3 {
				t.Fatalf("%d bins: bin %d holds %v with evidence %v, want %v and %v", n, k, l.u[k], ev[k], p.u[k], want[k])
			}
		}
		got := peaks(make([]int32, 0, n), ev, l.u, 2, n-1)
		if want := peaksGo(nil, ev, l.u, 2, n-1); !slices.Equal(got, want) {
			t.Errorf("%d bins: peaks at %v, want %v", n, got, want)
		}
	}
}

func TestLowerHalfOfTheBand(t *testing.T) {
	for _, c := range []struct{ f, lo, hi float64 }{{0.01, 0.99, 1.01}, {0.18, 0.97, 1.01}, {0.25, 0.45, 0.55}, {0.33, 0, 0.004}, {0.49, 0, 0.004}} {
		x := make([]float64, 400)
		for i := range x {
			x[i] = math.Cos(2 * math.Pi * c.f * float64(i))
		}
		e := 0.0
		for _, v := range lowerHalf(nil, x, 1)[100:300] {
			e += v * v / 100
		}
		if g := math.Sqrt(e); g < c.lo || g > c.hi {
			t.Errorf("a tone at %.2f of the sampling rate comes out %.4f times as strong, want %.3f to %.3f", c.f, g, c.lo, c.hi)
		}
	}
}

func TestVectorsWeighCombsAsPlainGoDoes(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 9))
	order := newCombs(12).prior
	for _, n := range []int{3, 40, 1025} {
		ev := make([]float32, n)
		for k := range ev {
			ev[k] = float32(r.NormFloat64())
		}
		steps := make([]float32, 45)
		for i := range steps {
			steps[i] = 2 + float32(n)*r.Float32()*r.Float32()*1.2
		}
		steps[3] = float32(n)
		got, want := make([]float32, len(steps)), make([]float32, len(steps))
		weighCombs(got, steps, ev, order)
		weighCombsGo(want, steps, ev, order)
		for i := range want {
			if d := float64(got[i] - want[i]); math.Abs(d) > 1e-4 || math.IsInf(float64(got[i]), 0) != math.IsInf(float64(want[i]), 0) {
				t.Fatalf("%d bins: comb of %v bins weighs %v, want %v", n, steps[i], got[i], want[i])
			}
		}
	}
}
