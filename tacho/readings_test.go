package tacho

import (
	"math"
	"slices"
	"testing"

	"rotorhum/tacho/internal/comb"
)

// Whichever of the shaft's first six lines was followed, the pulses are among the
// readings that are weighed.
func TestPulsesAmongReadings(t *testing.T) {
	for _, pulses := range []int{5, 12, 20, 36} {
		for k := 1; k <= 6; k++ {
			w := &weigher{o: &comb.Orders{Per: 48, Z: make([]float64, 48*60), Top: 50, Segments: 20}, z: pulses, lo: 0.1, hi: 50}
			w.sure, w.maybe = lineTables()
			want := float64(pulses) / float64(k)
			if !slices.ContainsFunc(w.readings(), func(r reading) bool { return math.Abs(r.ratio()/want-1) < 1e-9 }) {
				t.Errorf("%d pulses, line %d of the shaft was followed: %g times that is not weighed", pulses, k, want)
			}
		}
	}
}

// drawnLines returns the order spectrum of lines that stand out by so much, by order,
// and what weighs its readings for a rotor of z pulses.
func drawnLines(z int, lines map[float64]float64) *weigher {
	w := &weigher{o: &comb.Orders{Per: 48, Z: make([]float64, 48*40), Top: 36, Segments: 20}, z: z, slowest: 0.1, lo: 0.1, hi: 50}
	for x, v := range lines {
		w.o.Z[int(48*x+0.5)] = v
	}
	w.sure, w.maybe = lineTables()
	w.readings()
	return w
}

// What a plain stack explains, unlike blades need not: where all lines are those of a
// stack, every second order here, it explains them as well as a shaft at order 1 does,
// or better. That every third of its lines rises above the others it leaves to be
// explained, in just the proportion that comb.Unequal states for that (a likelihood ratio,
// whose logarithm is the loss); that the third does not rise is no gain.
func TestPlainPulsesExplainLinesOnce(t *testing.T) {
	const pulses = 6
	level, rising := map[float64]float64{}, map[float64]float64{}
	for m := 1; m <= 16; m++ {
		x := float64(2 * m)
		level[x], rising[x] = 200, 20
		if m%3 == 0 {
			rising[x] = 2000
		}
	}
	for _, c := range []struct {
		name  string
		lines map[float64]float64
		rises bool
	}{{"level", level, false}, {"every third rises", rising, true}} {
		w := drawnLines(pulses, c.lines)
		stack := w.alike[2]
		shaft := w.o.Evidence(1, pulses, w.sure, w.sure)
		// for pulses at its own rate nothing is left, nor at ones that are no multiple
		for _, pulse := range []float64{2, 3, 5} {
			if v := w.plain(1, pulse); v != stack || v < shaft {
				t.Errorf("%s: for pulses at order %g %.2f nats, want the %.2f of the stack; the shaft has %.2f", c.name, pulse, v, stack, shaft)
			}
		}
		rise, n := w.o.Unequal(2, 3, true)
		if n < 2 || rise > 3 != c.rises {
			t.Fatalf("%s: the strengths say %.2f nats by %d lines", c.name, rise, n)
		}
		if v, want := w.plain(1, 6), stack-math.Max(0, rise); math.Abs(v-want) > 1e-9 {
			t.Errorf("%s: for pulses at order 6 %.2f nats, want %.2f", c.name, v, want)
		}
		// the stack has more lines than a shaft at 0.8, and is that of one at 2 itself
		for _, base := range []float64{0.8, 2} {
			if v := w.plain(base, 3); v >= stack {
				t.Errorf("%s: a shaft at order %g, %.2f nats, explains what the stack does", c.name, base, v)
			}
		}
	}
}
