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
