package live

import (
	"math"

	"rotorhum/tacho"
	"rotorhum/tacho/internal/transform"
)

// columnSeconds is about the length of sound behind one column of the spectrum.
const columnSeconds = 0.1

// columns makes the spectra of the newest sound.
type columns struct {
	plan   *transform.Real
	weight []float64
	gain   float64
	buf    []float64
	power  []float64
	df     float64
}

func newColumns(fs float64) *columns {
	n := 2
	for float64(2*n) <= 1.4*columnSeconds*fs {
		n *= 2
	}
	c := &columns{plan: transform.NewReal(n), weight: tacho.Hann.Weights(n), buf: make([]float64, n), df: fs / float64(n)}
	sum := 0.0
	for _, w := range c.weight {
		sum += w
	}
	c.gain = 4 / (sum * sum) // a sine of full scale reads 1
	return c
}

// of returns the spectrum of the last samples of x in dB relative to a sine of
// full scale.
func (c *columns) of(x []float64) []float32 {
	n := len(c.buf)
	clear(c.buf)
	tail := x[max(0, len(x)-n):]
	copy(c.buf[n-len(tail):], tail)
	for i, w := range c.weight {
		c.buf[i] *= w
	}
	c.power = c.plan.Power(c.power, c.buf)
	out := make([]float32, len(c.power))
	for k, p := range c.power {
		out[k] = float32(10 * math.Log10(math.Max(p*c.gain, 1e-20)))
	}
	return out
}
