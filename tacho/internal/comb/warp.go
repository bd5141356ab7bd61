package comb

import "math"

// warp resamples a frame so that a comb whose rate changes by the share slope
// per second becomes steady: all harmonics of every such comb at once.
type warp struct {
	slope float64
	// reach is how many samples are needed on either side of the middle.
	reach int
	at    []int32      // index of the first of four samples, counted from the frame's first less before
	w     [][4]float32 // cubic weights, times the taper
	// before is how many samples before the frame are needed
	before int
	// taper is all there is to do where nothing is resampled, else nil.
	taper []float64
}

// newWarp prepares the warp of frames of n values, every by-th sample at fs, with
// the given taper.
func newWarp(n, by int, fs, slope float64, taper []float64) *warp {
	if slope == 0 && by == 1 {
		return &warp{taper: taper, reach: n/2 + 4}
	}
	w := &warp{slope: slope, at: make([]int32, n), w: make([][4]float32, n)}
	centre := float64(n-1) / 2 * float64(by)
	lo, hi := 0, n*by
	for i := range w.at {
		u := (float64(i*by) - centre) / fs
		t, speed := u, 1.0
		if slope != 0 {
			r := math.Sqrt(math.Max(0.04, 1+2*slope*u))
			t, speed = (r-1)/slope, r
		}
		x := t*fs + centre
		k := math.Floor(x)
		f := x - k
		a := taper[i] / math.Sqrt(speed)
		// Catmull-Rom weights
		w.w[i] = [4]float32{
			float32(a * (-0.5*f + f*f - 0.5*f*f*f)),
			float32(a * (1 - 2.5*f*f + 1.5*f*f*f)),
			float32(a * (0.5*f + 2*f*f - 1.5*f*f*f)),
			float32(a * (-0.5*f*f + 0.5*f*f*f)),
		}
		w.at[i] = int32(k)
		lo, hi = min(lo, int(k)-1), max(hi, int(k)+3)
	}
	w.before = max(0, -lo)
	for i := range w.at {
		w.at[i] += int32(w.before) - 1
	}
	w.reach = n/2*by + max(-lo, hi-n*by) + 4
	return w
}

// apply writes the warped, tapered frame that starts at x[start].
func (w *warp) apply(dst, x []float64, start int) {
	if w.taper != nil {
		multiply(dst[:len(w.taper)], x[start:], w.taper)
		return
	}
	interpolate(dst[:len(w.at)], x[start-w.before:], w.at, w.w)
}

// interpolateGo sets dst[i] to the sum of four samples from x[at[i]] on times
// their weights.
func interpolateGo(dst, x []float64, at []int32, weights [][4]float32) {
	at, weights = at[:len(dst)], weights[:len(dst)]
	for i, k := range at {
		s := x[k : k+4 : k+4]
		c := &weights[i]
		dst[i] = float64(c[0])*s[0] + float64(c[1])*s[1] + (float64(c[2])*s[2] + float64(c[3])*s[3])
	}
}

// multiplyGo sets dst[i] to x[i]*w[i].
func multiplyGo(dst, x, w []float64) {
	x, w = x[:len(dst)], w[:len(dst)]
	for i, v := range x {
		dst[i] = v * w[i]
	}
}

// hann returns the periodic Hann window scaled to unit energy.
func hann(n int) []float64 {
	w := make([]float64, n)
	for i := range w {
		w[i] = (1 - math.Cos(2*math.Pi*(float64(i)+0.5)/float64(n))) * math.Sqrt(2/(3*float64(n)))
	}
	return w
}
