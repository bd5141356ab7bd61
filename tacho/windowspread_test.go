package tacho

import (
	"math"
	"testing"
)

// The product of the spreads, in units of 1/(4π). Hann, triangle and parabola in
// closed form: ∫f²|W|² is ∫w'²/(4π²).
func TestWindowSpread(t *testing.T) {
	hannTime := math.Sqrt((1.0/32 - 15/(64*math.Pi*math.Pi)) / (3.0 / 8))
	for _, c := range []struct {
		w          Window
		time, freq float64
		product    float64 // published or computed elsewhere, 0 where not
	}{
		{Hann, hannTime, 1 / math.Sqrt(3), 1.0262},
		{Bartlett, math.Sqrt(1.0 / 40), math.Sqrt(12) / (2 * math.Pi), math.Sqrt(1.2)},
		{Welch, math.Sqrt(1.0 / 28), math.Sqrt(10) / (2 * math.Pi), math.Sqrt(10.0 / 7)},
	} {
		time, freq := c.w.Spread()
		near(t, c.w.Name()+": spread over time", time, c.time, 2e-6)
		near(t, c.w.Name()+": spread over frequency", freq, c.freq, 2e-6)
		near(t, c.w.Name()+": product times 4π", 4*math.Pi*time*freq, c.product, 1e-4)
	}
	for _, w := range []Window{Rectangle, Hamming} {
		if _, freq := w.Spread(); !math.IsInf(freq, 1) {
			t.Errorf("%s ends above 0 and has a spread over frequency of %g bins, want +Inf", w, freq)
		}
	}
	for _, w := range Windows() {
		if time, freq := w.Spread(); time*freq < 1/(4*math.Pi) {
			t.Errorf("%s: %g · %g is below Gabor's limit", w, time, freq)
		}
	}
}
