package phase

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Lines of unlike noise, whose rates an echo moves by about as much: what the
// lines say of the variance of their mean is that of many means (known truth).
func TestDisagreementOfUnlikeLines(t *testing.T) {
	src := rand.New(rand.NewPCG(1, 1))
	noise := []float64{0.4, 1, 1, 1.5, 3} // standard deviations of the rates
	for _, echo := range []float64{0, 0.3, 1} {
		const draws = 20000
		var all dissent
		square, variance := 0.0, 0.0
		for range draws {
			c := comparison{lines: float64(len(noise))}
			for _, sd := range noise {
				rate, w := sd*src.NormFloat64()+echo*src.NormFloat64(), 1/(sd*sd)
				c.w, c.ww, c.wx, c.wxx = c.w+w, c.ww+w*w, c.wx+w*rate, c.wxx+w*rate*rate
			}
			all.add(c.disagreement(), 1)
			square += c.wx * c.wx / (c.w * c.w) / draws
			variance = 1 / c.w
		}
		if got, want := 1+all.excess/all.others, square/variance; math.Abs(got/want-1) > 0.1 {
			t.Errorf("echo of %g: a factor of %.3g, want %.3g", echo, got, want)
		}
	}
}
