package phase

import (
	"math"
	"math/rand/v2"
	"testing"
)

// What is written out must be what carry and see do, step by step, and the
// likelihood that of the surprises on the way.
func TestTakingInIsCarryingAndSeeing(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	var p []Point
	var q []float64
	at := 0.0
	for i := range 400 {
		v := Point{T: at, Phi: 3 * at, Var: math.Exp(4*r.NormFloat64() - 6)}
		v.Phi += math.Sqrt(v.Var) * r.NormFloat64()
		if i%7 == 3 {
			v.Var = math.Inf(1)
		}
		if i%3 == 0 {
			v.Rate, v.RateVar = 3+0.1*r.NormFloat64(), 0.01
		}
		p, q = append(p, v), append(q, math.Exp(6*r.NormFloat64()))
		at += 0.5 + r.Float64()
	}
	prior := Prior{Start: Smooth{Omega: 2.9}, SD: [3]float64{30, 3, 1}, Q: q}
	want, like := prior.belief(), 0.0
	surprise := func(e, s float64) { like -= 0.5 * (e*e/s + math.Log(s)) }
	for i, v := range p {
		if i > 0 {
			want.carry(v.T-p[i-1].T, q[i])
		}
		b := want // to see the rate after the phase, as see does
		if !math.IsInf(v.Var, 1) {
			e, s := v.Phi-prior.ref(p, v.T)-b.x[0], b.p[0][0]+v.Var
			surprise(e, s)
			b.update(b.p[0], e, s)
		}
		if v.RateVar > 0 {
			surprise(v.Rate-prior.refRate(p, v.T)-b.x[1], b.p[1][1]+v.RateVar)
		}
		want.see(p, i, prior)
	}
	got := prior.belief()
	if l := got.takeIn(looks(p, prior), q); math.Abs(l-like) > 1e-9*math.Abs(like) {
		t.Errorf("likelihood %.12g, step by step %.12g", l, like)
	}
	for i := range 3 {
		if d := math.Abs(got.x[i] - want.x[i]); d > 1e-9*math.Sqrt(want.p[i][i]) {
			t.Errorf("state %d differs by %g", i, d)
		}
		for j := range 3 {
			if a, b := got.p[i][j], want.p[i][j]; math.Abs(a-b) > 1e-9*math.Sqrt(want.p[i][i]*want.p[j][j]) {
				t.Errorf("covariance %d, %d is %g, step by step %g", i, j, a, b)
			}
		}
	}
}

// Four at once are what each is alone, and so is the same in plain Go.
func TestFourAtOnce(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	var p []Point
	at := 0.0
	for i := range 300 {
		v := Point{T: at, Var: math.Exp(5*r.NormFloat64() - 6)}
		v.Phi = 3*at + math.Sqrt(v.Var)*r.NormFloat64()
		if i%5 == 3 {
			v.Var = math.Inf(1)
		}
		if i%3 != 0 {
			v.Rate, v.RateVar = 3+0.1*r.NormFloat64(), 0.01
		}
		p = append(p, v)
		at += math.Exp(2*r.NormFloat64() - 4)
	}
	prior := Prior{Start: Smooth{Omega: 2.9}, SD: [3]float64{30, 3, 1}}
	list := looks(p, prior)
	for _, c := range []struct{ from, end, q int }{{0, 300, 4}, {0, 300, 1200}, {7, 8, 4}, {3, 4, 4}, {12, 29, 68}} {
		q := make([]float64, c.q)
		for i := range q {
			q[i] = math.Exp(3 * r.NormFloat64())
		}
		from := prior.belief()
		from.takeIn(list[:c.from], []float64{1})
		var fast, plain four
		fast.takeIn(&from, list[c.from:c.end], q)
		plain.takeInGo(&from, list[c.from:c.end], q)
		for k := range 4 {
			if a, b := fast.like[k], plain.like[k]; !(math.Abs(a-b) <= 1e-7*math.Max(1, math.Abs(b))) {
				t.Errorf("looks %d to %d, lane %d: likelihood %.12g, one by one %.12g", c.from, c.end, k, a, b)
			}
			got, want := fast.to[k], plain.to[k]
			for i := range 3 {
				if d := math.Abs(got.x[i] - want.x[i]); !(d <= 1e-8*math.Sqrt(want.p[i][i])) {
					t.Errorf("looks %d to %d, lane %d: state %d differs by %g of %g", c.from, c.end, k, i, d, math.Sqrt(want.p[i][i]))
				}
				for j := range 3 {
					if a, b := got.p[i][j], want.p[i][j]; !(math.Abs(a-b) <= 1e-8*math.Sqrt(want.p[i][i]*want.p[j][j])) {
						t.Errorf("looks %d to %d, lane %d: covariance %d, %d is %g, one by one %g", c.from, c.end, k, i, j, a, b)
					}
				}
			}
		}
	}
}
