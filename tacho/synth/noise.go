package synth

import (
	"fmt"
	"math"
	"math/rand/v2"

	"rotorhum/tacho/internal/transform"
)

// Noise is a broad sound: wind, waves, a microphone's own hiss.
type Noise struct {
	// SNR, in dB, is the power of all the first rotor's lines (mean while it
	// turns) over the variance of this noise. In a scene without a rotor the
	// power of a sound of RMS 0.1 stands in its place.
	SNR float64 `json:"snr_db"`
	// Slope, in dB per octave, is the colour: 0 white, -3 pink, -6 brown, +3 blue.
	Slope float64 `json:"slope_db_per_octave,omitempty"`
	// Low and High, in hertz, bound the band softly: 3 dB down there, falling by
	// 12 dB per octave below and 24 above. 0 means 10 Hz (for slopes other than
	// 0) and half the sample rate.
	Low  float64 `json:"low_hz,omitempty"`
	High float64 `json:"high_hz,omitempty"`
	// Gust makes the noise swell and fade, in dB (standard deviation), about
	// GustRate times per second; 0 means 0.5. Waves on a beach come at 0.12.
	Gust     float64 `json:"gust_db,omitempty"`
	GustRate float64 `json:"gust_rate_hz,omitempty"`
	// Common gives every channel the same noise; otherwise each has its own.
	Common bool `json:"common,omitempty"`
	// Electronic noise arises behind the microphone and passes no roll-off.
	Electronic bool `json:"electronic,omitempty"`
}

// White, Pink and Brown return noise of that colour at snr dB.
func White(snr float64) Noise { return Noise{SNR: snr} }

// Pink returns noise with equal power in every octave above 10 Hz, at snr dB.
func Pink(snr float64) Noise { return Noise{SNR: snr, Slope: -3.0102999566398120} }

// Brown returns noise that falls by 6 dB per octave above 10 Hz, at snr dB.
func Brown(snr float64) Noise { return Noise{SNR: snr, Slope: -6.0205999132796239} }

// WhiteNoise returns n independent Gaussian samples with mean 0 and standard
// deviation sd, drawn from src. n must not be negative. A watch may end it early,
// see [Tone].
func WhiteNoise(src *rand.Rand, sd float64, n int, watch ...Watch) []float64 {
	w := watched(watch)
	return w.whole(whiteNoise(w, src, sd, n))
}

func whiteNoise(w *work, src *rand.Rand, sd float64, n int) []float64 {
	x := make([]float64, n)
	for from, to := range w.pieces(n) {
		for i := from; i < to; i++ {
			x[i] = sd * src.NormFloat64()
		}
	}
	return x
}

// ColouredNoise returns n Gaussian samples of expected variance sd², sampled at
// fs, whose power density over frequency f is
//
//	(f/1 kHz)^p / (1 + (low/f)^4) / (1 + (f/high)^8)
//
// with the power p that gives slope dB per octave. low and high, in hertz, may be
// 0 for no edge. The shape is exact: it is made bin by bin on a transform at
// least as long as n. There is no power at zero frequency. A watch may end it early,
// see [Tone].
func ColouredNoise(src *rand.Rand, sd, slope, low, high, fs float64, n int, watch ...Watch) []float64 {
	w := watched(watch)
	return w.whole(colouredNoise(w, src, sd, slope, low, high, fs, n))
}

func colouredNoise(w *work, src *rand.Rand, sd, slope, low, high, fs float64, n int) []float64 {
	size := transformSize(n)
	half := size/2 + 1
	gain := make([]float64, half)
	total := 0.0
	power := slope / 10 / math.Log10(2) // density ~ f^power
	for from, to := range w.pieces(half - 1) {
		for k := max(1, from); k < to; k++ {
			f := float64(k) * fs / float64(size)
			d := 1.0
			if power != 0 {
				d = math.Pow(f/1000, power)
			}
			if low > 0 {
				x := low / f
				d /= 1 + x*x*x*x
			}
			if high > 0 {
				x := f / high
				x *= x
				d /= 1 + x*x*x*x
			}
			gain[k] = math.Sqrt(d)
			total += d
		}
	}
	x := make([]float64, n)
	if total == 0 || n == 0 || w.err() != nil {
		return x
	}
	spectrum := make([]complex128, half)
	scale := sd / (2 * math.Sqrt(total))
	for from, to := range w.pieces(half - 1) {
		for k := max(1, from); k < to; k++ {
			spectrum[k] = complex(scale*gain[k]*src.NormFloat64(), scale*gain[k]*src.NormFloat64())
		}
	}
	plan, err := transform.NewRealWith(w.context(), size)
	if err != nil {
		return x
	}
	// Both halves of the spectrum together, 2 Re(X exp(...)), have a variance of
	// 4 scale² gain² in every bin.
	wave, err := plan.InverseWith(w.context(), nil, spectrum)
	if err != nil {
		return x
	}
	copy(x, wave)
	return x
}

// transformSize returns a length of at least n that factors into 2, 3 and 5.
func transformSize(n int) int {
	for size := max(2, n); ; size++ {
		r := size
		for _, p := range []int{2, 3, 5} {
			for r%p == 0 {
				r /= p
			}
		}
		if r == 1 && size%2 == 0 {
			return size
		}
	}
}

// render returns n samples of the noise with standard deviation sd.
func (v Noise) render(w *work, src *rand.Rand, sd, fs float64, n int) []float64 {
	var x []float64
	if v.Slope == 0 && v.Low == 0 && v.High == 0 {
		x = whiteNoise(w, src, sd, n)
	} else {
		low := v.Low
		if low == 0 && v.Slope != 0 {
			low = 10
		}
		x = colouredNoise(w, src, sd, v.Slope, low, v.High, fs, n)
	}
	if v.Gust > 0 {
		rate := v.GustRate
		if rate == 0 {
			rate = 0.5
		}
		swell := newSwell(src, v.Gust, rate/2, rate*2, float64(n)/fs)
		for from, to := range w.pieces(n) {
			for i := from; i < to; i++ {
				x[i] *= swell.at(float64(i) / fs)
			}
		}
	}
	return x
}

func (v Noise) check(which int, fs float64) error {
	if !(math.Abs(v.SNR) <= 200) {
		return fmt.Errorf("noise %d: snr_db is %v; give a number from -200 to 200, or leave the noise out", which, v.SNR)
	}
	if !(math.Abs(v.Slope) <= 24) {
		return fmt.Errorf("noise %d: slope_db_per_octave is %v; give a number from -24 to 24", which, v.Slope)
	}
	if err := checkBand(v.Low, v.High, fs); err != nil {
		return fmt.Errorf("noise %d: %v", which, err)
	}
	if !(v.Gust >= 0 && v.Gust <= 12) || !(v.GustRate >= 0 && v.GustRate <= 100) {
		return fmt.Errorf("noise %d: give gust_db from 0 to 12 and gust_rate_hz up to 100", which)
	}
	return nil
}

func checkBand(low, high, fs float64) error {
	if !(low >= 0 && low < fs/2) || !(high >= 0 && high <= fs/2) || high > 0 && high <= low {
		return fmt.Errorf("the band %v to %v Hz does not lie, in this order, between 0 and half the sample rate, %v Hz", low, high, fs/2)
	}
	return nil
}
