package evidence

import "testing"

func TestEvidenceTable(t *testing.T) {
	l := New(0.6, 1e-3)
	for _, z := range []float64{0, 1, 3, 5, 8, 10, 15, 20, 50, 100, 1000, 1e5} {
		t.Logf("z=%g evidence %.2f posterior %.3f", z, l.At(z), l.Posterior(z))
	}
}
