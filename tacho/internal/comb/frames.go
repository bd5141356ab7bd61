package comb

import (
	"context"
	"math"
	"runtime"
	"sort"
	"sync"

	"rotorhum/tacho/internal/evidence"
	"rotorhum/tacho/internal/floor"
	"rotorhum/tacho/internal/sound"
	"rotorhum/tacho/internal/transform"
)

// State is one possible state of the source at one moment: a rate, its change
// in shares per second, and the evidence for it.
type State struct {
	Rate, Slope, Evidence float64
}

// Moment holds the candidates of one frame, best first, and the level of the
// sound: its mean power and the share of it in the noise floor.
type Moment struct {
	States []State
	Power  float64
}

// Frames are the candidates of a whole recording at regular moments.
type Frames struct {
	// Hop is the time between moments in seconds; the first moment is at 0.
	Hop     float64
	Moments []Moment
}

// view is one length of frame with the rates and slopes looked for in it.
type view struct {
	n      int
	lo, hi float64
	warps  []*warp
	grid   []float64
	margin int
}

// FrameOptions bounds the search.
type FrameOptions struct {
	Lo, Hi    float64 // rates in hertz
	Hop       float64 // seconds
	Harmonics int
	Keep      int // candidates kept per moment
	// Veto reports that a line at f hertz is not the rotor's.
	Veto     func(f float64) bool
	Context  context.Context
	Progress func(done float64)
}

// slopes for the three views, in shares per second. Long frames resolve slow
// change, short ones bear fast change.
var (
	slowSlopes = []float64{0, -0.18, 0.18, -0.42, 0.42}
	fastSlopes = []float64{0, -0.45, 0.45, -0.95, 0.95, -1.6, 1.6, -2.4, 2.4, -3.3, 3.3}
	tinySlopes = []float64{0, -1.4, 1.4, -3, 3}
)

func newView(seconds, fs, lo, hi float64, slopes []float64, harmonics int) *view {
	n := 1
	for float64(n)*1.42 < seconds*fs {
		n *= 2
	}
	v := &view{n: n, lo: lo, hi: math.Min(hi, fs/2)}
	taper := hann(n)
	for _, s := range slopes {
		w, m := newWarp(n, fs, s, taper)
		v.warps = append(v.warps, w)
		v.margin = max(v.margin, m)
	}
	res := fs / float64(n)
	for f := lo; f < v.hi; {
		v.grid = append(v.grid, f)
		m := math.Min(float64(harmonics), math.Floor(fs/2/f))
		f += 0.3 * res / math.Max(m, 1)
	}
	return v
}

// Analyse finds the candidates of every moment of src.
func Analyse(src *sound.Source, opt FrameOptions) (*Frames, error) {
	fs := src.Rate
	var views []*view
	for _, v := range []struct {
		seconds, lo, hi float64
		slopes          []float64
	}{
		{0.256, 0, 130, slowSlopes},
		{0.128, 25, 700, fastSlopes},
		{0.064, 400, math.Inf(1), tinySlopes},
	} {
		lo, hi := math.Max(opt.Lo, v.lo), math.Min(opt.Hi, v.hi)
		if lo < hi {
			views = append(views, newView(v.seconds, fs, lo, hi, v.slopes, opt.Harmonics))
		}
	}
	count := int(float64(src.Frames)/fs/opt.Hop) + 1
	fr := &Frames{Hop: opt.Hop, Moments: make([]Moment, count)}
	// blocks of moments are independent; the floor is averaged inside each
	const block = 256
	jobs := make(chan int)
	var wg sync.WaitGroup
	var mu sync.Mutex
	var first error
	done := 0
	for range runtime.GOMAXPROCS(0) {
		wg.Add(1)
		go func() {
			defer wg.Done()
			w := newWorker(src, views, opt)
			for b := range jobs {
				err := w.block(fr.Moments, b, min(b+block, count))
				mu.Lock()
				if err != nil && first == nil {
					first = err
				}
				done += block
				if opt.Progress != nil {
					opt.Progress(math.Min(1, float64(done)/float64(count)))
				}
				mu.Unlock()
			}
		}()
	}
	for b := 0; b < count; b += block {
		if opt.Context != nil && opt.Context.Err() != nil {
			first = opt.Context.Err()
			break
		}
		jobs <- b
	}
	close(jobs)
	wg.Wait()
	if first != nil {
		return nil, first
	}
	return fr, nil
}

// worker analyses blocks of moments; each goroutine has its own.
type worker struct {
	src   *sound.Source
	views []*view
	opt   FrameOptions
	line  *evidence.Line
	order *evidence.Order
	plans []*transform.Real
	buf   []float64
	power []float64
	place []float64
	top   []State
}

func newWorker(src *sound.Source, views []*view, opt FrameOptions) *worker {
	w := &worker{src: src, views: views, opt: opt,
		line: evidence.New(0.7, 2e-3), order: evidence.NewOrder(opt.Harmonics)}
	for _, v := range views {
		w.plans = append(w.plans, transform.NewReal(v.n))
	}
	return w
}

// block fills moments[from:to].
func (w *worker) block(moments []Moment, from, to int) error {
	fs := w.src.Rate
	margin := 0
	for _, v := range w.views {
		margin = max(margin, v.n/2+v.margin+4)
	}
	first := int(math.Round(float64(from) * w.opt.Hop * fs))
	last := int(math.Round(float64(to-1) * w.opt.Hop * fs))
	x, err := w.src.Block(nil, first-margin, last-first+2*margin)
	if err != nil {
		return err
	}
	for i, v := range w.views {
		w.view(moments, from, to, v, w.plans[i], x, first-margin)
	}
	for i := from; i < to; i++ {
		m := &moments[i]
		sort.Slice(m.States, func(a, b int) bool { return m.States[a].Evidence > m.States[b].Evidence })
		kept := m.States[:0]
		for _, s := range m.States {
			if len(kept) == w.opt.Keep {
				break
			}
			near := false
			for _, q := range kept {
				if math.Abs(q.Rate/s.Rate-1) < 0.006 && math.Abs(q.Slope-s.Slope) < 0.6 {
					near = true
					break
				}
			}
			if !near {
				kept = append(kept, s)
			}
		}
		m.States = kept
	}
	return nil
}

func (w *worker) view(moments []Moment, from, to int, v *view, plan *transform.Real, x [][]float64, origin int) {
	n, bins := v.n, v.n/2+1
	fs := w.src.Rate
	if cap(w.buf) < n {
		w.buf = make([]float64, n)
	}
	buf := w.buf[:n]
	start := func(i int) int { return int(math.Round(float64(i)*w.opt.Hop*fs)) - n/2 - origin }
	// the floor of every frame and channel, smoothed over time
	floors := make([][][]float64, len(x))
	for c := range x {
		floors[c] = make([][]float64, to-from)
		for i := from; i < to; i++ {
			v.warps[0].apply(buf, x[c], start(i))
			w.power = plan.Power(w.power, buf)
			floors[c][i-from] = floor.Estimate(nil, w.power, 24, 0.3)
		}
		smoothLog(floors[c], int(0.3/w.opt.Hop))
	}
	ev := make([]float64, bins)
	df := fs / float64(n)
	weight := w.opt.Hop / 0.128
	for i := from; i < to; i++ {
		level := 0.0
		for c := range x {
			s := start(i)
			for _, a := range x[c][s : s+n] {
				level += a * a
			}
		}
		moments[i].Power = level / float64(n)
		if level == 0 {
			continue
		}
		for _, wp := range v.warps {
			clear(ev)
			for c := range x {
				wp.apply(buf, x[c], start(i))
				w.power = plan.Power(w.power, buf)
				fl := floors[c][i-from]
				for k, p := range w.power {
					if fl[k] > 0 {
						ev[k] += w.line.At(p / fl[k])
					}
				}
			}
			if w.opt.Veto != nil {
				for k := range ev {
					if w.opt.Veto(float64(k) * df) {
						ev[k] = 0
					}
				}
			}
			for _, s := range w.scan(v, ev, df) {
				s.Slope = wp.slope
				s.Evidence *= weight
				moments[i].States = append(moments[i].States, s)
			}
		}
	}
}

// scan returns the best rates of one frame from the evidence of its bins.
func (w *worker) scan(v *view, ev []float64, df float64) []State {
	w.top = w.top[:0]
	var a, b State
	a.Evidence, b.Evidence = math.Inf(-1), math.Inf(-1)
	add := func(s State) {
		// keep the best few in order
		const few = 8
		if len(w.top) == few && s.Evidence <= w.top[few-1].Evidence {
			return
		}
		if len(w.top) < few {
			w.top = append(w.top, s)
		} else {
			w.top[few-1] = s
		}
		for j := len(w.top) - 1; j > 0 && w.top[j].Evidence > w.top[j-1].Evidence; j-- {
			w.top[j], w.top[j-1] = w.top[j-1], w.top[j]
		}
	}
	top := float64(len(ev) - 2)
	for _, f := range v.grid {
		run, best := 0.0, math.Inf(-1)
		step := f / df
		for m, x := 1, step; m <= w.opt.Harmonics && x < top; m, x = m+1, x+step {
			k := int(x)
			r := x - float64(k)
			run += ev[k] + r*(ev[k+1]-ev[k])
			if e := run + w.order.Log(m); e > best {
				best = e
			}
		}
		c := State{Rate: f, Evidence: best}
		if b.Evidence > a.Evidence && b.Evidence >= c.Evidence && b.Evidence > 1 {
			// parabola through the three for the rate between grid points
			d := a.Evidence - 2*b.Evidence + c.Evidence
			if d < 0 {
				o := 0.5 * (a.Evidence - c.Evidence) / d
				b.Rate += o * (c.Rate - b.Rate)
			}
			add(b)
		}
		a, b = b, c
	}
	return w.top
}

// smoothLog averages each bin's logarithm over 2*half+1 frames.
func smoothLog(f [][]float64, half int) {
	if len(f) == 0 {
		return
	}
	n := len(f[0])
	logs := make([]float64, len(f))
	pre := make([]float64, len(f)+1)
	cnt := make([]int, len(f)+1)
	for k := 0; k < n; k++ {
		for i := range f {
			pre[i+1], cnt[i+1] = pre[i], cnt[i]
			if f[i][k] > 0 {
				logs[i] = math.Log(f[i][k])
				pre[i+1] += logs[i]
				cnt[i+1]++
			}
		}
		for i := range f {
			if f[i][k] == 0 {
				continue
			}
			lo, hi := max(0, i-half), min(len(f), i+half+1)
			f[i][k] = math.Exp((pre[hi] - pre[lo]) / float64(cnt[hi]-cnt[lo]))
		}
	}
}
