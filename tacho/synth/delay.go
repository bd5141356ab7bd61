package synth

import "math"

// delayReach is half the length, in samples, of the interpolation that reads
// between samples.
const delayReach = 24

// delayed adds gain times src, read from position start on, to dst. Where start
// falls between samples it interpolates with a windowed sinc of 48 samples, true
// to 0.01 % up to 0.4 times the sample rate.
func delayed(w *work, dst, src []float64, start, gain float64) {
	whole := math.Floor(start)
	first, part := int(whole), start-whole
	if part == 0 {
		for i := range dst {
			if j := first + i; j >= 0 && j < len(src) {
				dst[i] += gain * src[j]
			}
		}
		return
	}
	var taps [2 * delayReach]float64
	for k := range taps {
		x := float64(k-delayReach+1) - part
		u := x / delayReach
		taps[k] = gain * math.Sin(math.Pi*x) / (math.Pi * x) * (0.42 + 0.5*math.Cos(math.Pi*u) + 0.08*math.Cos(2*math.Pi*u))
	}
	for from, to := range w.pieces(len(dst)) {
		for i := from; i < to; i++ {
			sum := 0.0
			for k, v := range taps {
				if j := first + i + k - delayReach + 1; j >= 0 && j < len(src) {
					sum += v * src[j]
				}
			}
			dst[i] += sum
		}
	}
}
