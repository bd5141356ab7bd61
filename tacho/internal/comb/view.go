package comb

import (
	"math"
)

// view is one length of frame with the rates and slopes looked for in it.
type view struct {
	n      int // values of a frame
	by     int // samples from one value to the next
	hop    int // moments served by one frame
	lo, hi float64
	df     float64 // hertz between bins
	warps  []*warp // of no slope, and of -a, +a, -b, +b, ...
	reach  int     // samples needed on either side of the middle
}

// The views. Long frames resolve slow change, short ones bear fast change; slopes
// are in shares per second. What changes slowly need not be looked at every moment.
var allViews = []struct {
	seconds, lo, hi float64
	hop             int
	slopes          []float64
}{
	{0.512, 0, 300, 4, []float64{0, -0.12, 0.12}},
	{0.256, 19, 1500, 2, []float64{0, -0.18, 0.18, -0.42, 0.42}},
	{0.128, 36, math.Inf(1), 1, []float64{0, -0.45, 0.45, -0.95, 0.95, -1.6, 1.6, -2.4, 2.4, -3.3, 3.3}},
	{0.064, 80, math.Inf(1), 1, []float64{0, -1.4, 1.4, -3, 3}},
}

// newViews returns the views for rates within the options' range.
func newViews(fs float64, opt FrameOptions) []*view {
	var views []*view
	for _, v := range allViews {
		lo, hi := math.Max(opt.Lo, v.lo), math.Min(opt.Hi, math.Min(v.hi, fs/2))
		if lo >= hi {
			continue
		}
		n := 1
		for float64(n)*1.42 < v.seconds*fs {
			n *= 2
		}
		by := 1
		for by < mostThinned && n/(2*by) >= 256 && float64(opt.Harmonics)*hi <= 0.45*fs/float64(2*by) {
			by *= 2
		}
		w := &view{n: n / by, by: by, hop: v.hop, lo: lo, hi: hi, df: fs / float64(n)}
		taper := hann(w.n)
		for _, s := range v.slopes {
			wp := newWarp(w.n, by, fs, s, taper)
			w.warps = append(w.warps, wp)
			w.reach = max(w.reach, wp.reach)
		}
		views = append(views, w)
	}
	return views
}

// plain is clear evidence: a stack this strong at a slope that beats its neighbours is
// the one to be had in this frame; other slopes need no look.
const plain = 18.0

// alike is how near, relatively, the best rate of a frame must be to one that a
// longer frame shows plainly to be the same.
const alike = 0.02

// climb tries slopes from none outwards: all of them where nothing is clear, and
// else as long as the evidence does not fall. Clear is what is plain, here or at the
// same rate in a longer frame, which confirms it, so that a smaller fall (in nats)
// will do; clear is the rate that longer frames show plainly, or 0.
func (v *view) climb(clear float64, try func(*warp) State) {
	at := func(k int) *warp {
		switch {
		case k < 0:
			return v.warps[-2*k-1]
		case k > 0:
			return v.warps[2*k]
		}
		return v.warps[0]
	}
	reach := len(v.warps) / 2
	top := try(at(0))
	var sides [2]State
	for i, k := range [...]int{-1, 1} {
		sides[i] = try(at(k))
		if sides[i].Evidence > top.Evidence {
			top = sides[i]
		}
	}
	for i, sign := range [...]int{-1, 1} {
		last := sides[i]
		for k := 2; k <= reach; k++ {
			known, fall := top.Evidence >= plain, 3.0
			if math.Abs(top.Rate-clear) < alike*clear {
				known, fall = true, 1
			}
			if known && last.Evidence < top.Evidence-fall {
				break // down the hill
			}
			last = try(at(sign * k))
			if last.Evidence > top.Evidence {
				top = last
			}
		}
	}
}

// mostThinned is the largest number of samples from one value of a frame to the
// next.
const mostThinned = 4

// thinReach is how far the filters before thinning reach.
const thinReach = 3 * (2*len(halfBand) - 1)

// halfBand holds the weights at 1, 3, 5, ... samples from the middle of a filter
// that leaves the lower half of the band: flat to 0.19 of the sampling rate, half
// at 0.25 and 50 dB down from 0.31 on.
var halfBand = func() (h [8]float64) {
	sum := 0.0
	for i := range h {
		k := float64(2*i + 1)
		h[i] = math.Sin(math.Pi*k/2) / (math.Pi * k) * (0.5 + 0.5*math.Cos(math.Pi*k/17))
		sum += 2 * h[i]
	}
	for i := range h {
		h[i] *= 0.5 / sum
	}
	return h
}()

// thinner holds a block of samples as it is and without its upper half and three
// quarters of the band, so that every second or fourth sample says all.
type thinner struct {
	x [3][][]float64
	// room is memory for the levels above the first
	room [3][][]float64
}

// set takes a new block.
func (t *thinner) set(x [][]float64) { t.x = [3][][]float64{x} }

// by returns the samples for frames of every by-th: 1, 2 or 4.
func (t *thinner) by(by int) [][]float64 {
	level := 0
	for ; 1<<level < by; level++ {
		if t.x[level+1] != nil {
			continue
		}
		for ch, x := range t.x[level] {
			room := &t.room[level+1]
			if ch == len(*room) {
				*room = append(*room, nil)
			}
			(*room)[ch] = lowerHalf((*room)[ch], x, 1<<level)
			t.x[level+1] = append(t.x[level+1], (*room)[ch])
		}
	}
	return t.x[level]
}

// lowerHalf filters x with halfBand, its weights step times as far apart, into y
// where that is long enough. The ends, which the filter does not reach, are zero.
func lowerHalf(y, x []float64, step int) []float64 {
	if cap(y) < len(x) {
		y = make([]float64, len(x))
	}
	y = y[:len(x)]
	reach := min(len(x), (2*len(halfBand)-1)*step)
	clear(y[:reach])
	clear(y[len(x)-reach:])
	for i := reach; i < len(x)-reach; i++ {
		l, r := x[i-reach:i+1], x[i:i+reach+1]
		sum := 0.5 * x[i]
		for k, h := range halfBand {
			d := (2*k + 1) * step
			sum += h * (l[len(l)-1-d] + r[d])
		}
		y[i] = sum
	}
	return y
}
