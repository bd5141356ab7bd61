package rank

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestSelectIsWhatSortingGives(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 3000 {
		x := make([]float64, 1+r.IntN(200))
		for i := range x {
			x[i] = math.Floor(r.Float64() * float64(1+r.IntN(300))) // many are equal
		}
		k := r.IntN(len(x))
		want := slices.Sorted(slices.Values(x))[k]
		if got := Select(x, k); got != want {
			t.Fatalf("place %d of %d values: %v, want %v", k, len(x), got, want)
		}
	}
}

func TestWindowIsWhatSortingGives(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	var w Window
	var x []float64
	for range 2000 {
		if len(x) > 0 && r.IntN(5) < 2 {
			i := r.IntN(len(x))
			w.Drop(x[i])
			x = slices.Delete(x, i, i+1)
		} else {
			v := math.Floor(r.Float64() * 50)
			w.Add(v)
			x = append(x, v)
		}
		if w.Len() != len(x) {
			t.Fatalf("%d values, want %d", w.Len(), len(x))
		}
		if len(x) == 0 {
			continue
		}
		s := slices.Sorted(slices.Values(x))
		m := len(s) / 2
		if w.At(m) != s[m] {
			t.Fatalf("middle %v, want %v", w.At(m), s[m])
		}
		far := func(v float64) float64 { return math.Abs(v - s[m]) }
		var d []float64
		for _, v := range s {
			d = append(d, far(v))
		}
		slices.Sort(d)
		k := r.IntN(len(d))
		if got := w.Distance(m, k, far); got != d[k] {
			t.Fatalf("place %d of the distances: %v, want %v", k, got, d[k])
		}
	}
}

func TestNearIsWhatSortingGives(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 2))
	for range 2000 {
		x := make([]float32, 1+r.IntN(200))
		for i := range x {
			x[i] = float32(math.Exp(20 * r.NormFloat64()))
			if r.IntN(8) == 0 {
				x[i] = 0
			}
		}
		sorted := slices.Sorted(slices.Values(x))
		k := r.IntN(len(x))
		want := sorted[k]
		for _, guess := range []float32{0, want, 5 * want, want / 50} {
			if got := Near(x, k, guess, 23); got != want && !(want == 0 && got < 1e-44) {
				t.Fatalf("place %d of %d, guess %v: %v, want %v", k, len(x), guess, got, want)
			}
			if got := Near(x, k, guess, 10); math.Abs(float64(got-want)) > 0.001*float64(want) && want > 1e-30 {
				t.Fatalf("place %d of %d, guess %v: about %v, want %v", k, len(x), guess, got, want)
			}
		}
		if got, want := upTo(x, want), upToGo(x, want); got != want {
			t.Fatalf("%d of %d are not above, want %d", got, len(x), want)
		}
	}
}
