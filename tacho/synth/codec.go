package synth

import (
	"fmt"
	"math"
)

// Codec is what a telephone does to sound: a narrow band and, if asked, the
// coarse logarithmic steps of an 8-bit line.
type Codec struct {
	// Low and High, in hertz, bound the band; 0 means none. Telephones pass 300
	// to 3400 Hz.
	Low  float64 `json:"low_hz,omitempty"`
	High float64 `json:"high_hz,omitempty"`
	// Companded rounds to 256 steps, fine for soft sounds and coarse for loud
	// ones: the mu-law with mu = 255 (ITU-T G.711, continuous form), full scale at
	// the loudest sample.
	Companded bool `json:"companded,omitempty"`
}

// apply returns x as it comes out of the codec, without delay.
func (c Codec) apply(w *work, x []float64, fs float64) []float64 {
	if c.Low > 0 || c.High > 0 {
		x = centred(w, x, bandPass(c.Low, c.High, fs))
	}
	if c.Companded {
		compand(w, x)
	}
	return x
}

// bandPass returns an odd number of taps of a filter with linear phase: the
// ideal band under a Blackman window, with flanks 100 Hz wide.
func bandPass(low, high, fs float64) []float64 {
	half := int(math.Ceil(2.75 * fs / 100))
	if high == 0 || high > fs/2 {
		high = fs / 2
	}
	h := make([]float64, 2*half+1)
	ideal := func(f float64, k int) float64 { // a low-pass at f
		if k == 0 {
			return 2 * f / fs
		}
		return math.Sin(2*math.Pi*f/fs*float64(k)) / (math.Pi * float64(k))
	}
	for i := range h {
		k := i - half
		u := float64(k) / float64(half+1)
		window := 0.42 + 0.5*math.Cos(math.Pi*u) + 0.08*math.Cos(2*math.Pi*u)
		h[i] = window * (ideal(high, k) - ideal(low, k))
	}
	return h
}

// centred returns x convolved with an odd number of taps, without their delay.
func centred(w *work, x, h []float64) []float64 {
	half := len(h) / 2
	long := make([]float64, len(x)+half)
	copy(long, x)
	return convolve(w, long, h)[half:]
}

// compand rounds x, in place, to the steps of an 8-bit mu-law line.
func compand(w *work, x []float64) {
	full := 0.0
	for _, v := range x {
		full = math.Max(full, math.Abs(v))
	}
	if full == 0 {
		return
	}
	const mu = 255
	for from, to := range w.pieces(len(x)) {
		for i := from; i < to; i++ {
			v := x[i]
			code := math.Round(127 * math.Log1p(mu*math.Abs(v)/full) / math.Log1p(mu))
			x[i] = math.Copysign(full*math.Expm1(code/127*math.Log1p(mu))/mu, v)
		}
	}
}

func (c Codec) check(fs float64) error {
	if err := checkBand(c.Low, c.High, fs); err != nil {
		return fmt.Errorf("codec: %v", err)
	}
	return nil
}
