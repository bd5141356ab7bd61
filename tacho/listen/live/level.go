package live

import "math"

// fullScale is what counts as the end of the scale: the largest sample of 16 bits
// and what rounding makes of it.
const fullScale = 0.9999

// quantum is the step of a converter of 16 bits, the coarsest in use.
const quantum = 1.0 / (1 << 15)

// levels returns the RMS level of samples in dB relative to a sine of full scale,
// the largest in dB relative to full scale, and whether they are clipped: more
// than one at full scale, or more in flat tops at their own extreme than a sine
// has there for want of finer steps.
func levels(x []float64) (level, peak float64, clipped bool) {
	if len(x) == 0 {
		return math.Inf(-1), math.Inf(-1), false
	}
	squares, hi, lo, full := 0.0, math.Inf(-1), math.Inf(1), 0
	for _, v := range x {
		squares += v * v
		hi, lo = math.Max(hi, v), math.Min(lo, v)
		if math.Abs(v) >= fullScale {
			full++
		}
	}
	top := math.Max(hi, -lo)
	clipped = full > 1 || flat(x, hi) || flat(x, lo)
	return 10 * math.Log10(2*squares/float64(len(x))), 20 * math.Log10(top), clipped
}

// flat reports whether x stands at its extreme in runs of three and more far more
// often than a sine of that amplitude, of which the share sqrt(2q/A)/π lies within
// a step q of its crest (small angles).
func flat(x []float64, extreme float64) bool {
	a := math.Abs(extreme)
	if a < 0.05 {
		return false
	}
	in, run := 0, 0
	for _, v := range x {
		if v != extreme {
			run = 0
			continue
		}
		if run++; run == 3 {
			in += 3
		} else if run > 3 {
			in++
		}
	}
	natural := math.Sqrt(2*quantum/a) / math.Pi
	return float64(in) > (2*natural+0.004)*float64(len(x))
}
