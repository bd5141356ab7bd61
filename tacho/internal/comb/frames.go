package comb

import (
	"cmp"
	"math"
	"runtime"
	"slices"
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
	margin int
}

// FrameOptions bounds the search.
type FrameOptions struct {
	Lo, Hi    float64 // rates in hertz
	Hop       float64 // seconds
	Harmonics int
	Keep      int // candidates kept per moment
	Progress  func(done float64)
}

// slopes for the four views, in shares per second. Long frames resolve slow
// change, short ones bear fast change.
var (
	calmSlopes = []float64{0, -0.12, 0.12}
	slowSlopes = []float64{0, -0.18, 0.18, -0.42, 0.42}
	fastSlopes = []float64{0, -0.45, 0.45, -0.95, 0.95, -1.6, 1.6, -2.4, 2.4, -3.3, 3.3}
	tinySlopes = []float64{0, -1.4, 1.4, -3, 3}
)

func newView(seconds, fs, lo, hi float64, slopes []float64) *view {
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
	return v
}

// newViews returns the views of sound sampled at fs that bear on the rates looked
// for.
func newViews(fs float64, opt FrameOptions) []*view {
	var views []*view
	for _, v := range []struct {
		seconds, lo, hi float64
		slopes          []float64
	}{
		{0.512, 0, 300, calmSlopes},
		{0.256, 19, 1500, slowSlopes},
		{0.128, 36, math.Inf(1), fastSlopes},
		{0.064, 80, math.Inf(1), tinySlopes},
	} {
		lo, hi := math.Max(opt.Lo, v.lo), math.Min(opt.Hi, v.hi)
		if lo < hi {
			views = append(views, newView(v.seconds, fs, lo, hi, v.slopes))
		}
	}
	return views
}

// Analyse finds the candidates of every moment of src.
func Analyse(src *sound.Source, opt FrameOptions) (*Frames, error) {
	fs := src.Rate
	views := newViews(fs, opt)
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
	for b := 0; b < count && src.Stopped() == nil; b += block {
		jobs <- b
	}
	close(jobs)
	wg.Wait()
	return fr, cmp.Or(first, src.Stopped())
}

// frameLine is the evidence of lines in frames.
var frameLine = sync.OnceValue(func() *evidence.Line { return evidence.New(0.7, 2e-3) })

// worker analyses blocks of moments; each goroutine has its own.
type worker struct {
	src   *sound.Source
	views []*view
	opt   FrameOptions
	line  *evidence.Line
	prior []float64 // of combs that end at each harmonic
	lines []int
	work  []float64
	plans []*transform.Real
	buf   []float64
	power []float64
	top   []State
}

func newWorker(src *sound.Source, views []*view, opt FrameOptions) *worker {
	w := &worker{src: src, views: views, opt: opt,
		line: frameLine()}
	order := evidence.NewOrder(opt.Harmonics)
	for m := 1; m <= opt.Harmonics; m++ {
		w.prior = append(w.prior, order.Log(m))
	}
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
		if err := w.view(moments, from, to, v, w.plans[i], x, first-margin); err != nil {
			return err
		}
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
		m.States = slices.Clone(kept) // without the room of those that went
	}
	return nil
}

func (w *worker) view(moments []Moment, from, to int, v *view, plan *transform.Real, x [][]float64, origin int) error {
	n, bins := v.n, v.n/2+1
	fs := w.src.Rate
	if cap(w.buf) < n {
		w.buf = make([]float64, n)
	}
	buf := w.buf[:n]
	if cap(w.power) < bins {
		w.power = make([]float64, bins)
	}
	w.power = w.power[:bins]
	if len(w.work) < bins+1 {
		w.work = make([]float64, bins+1)
	}
	start := func(i int) int { return int(math.Round(float64(i)*w.opt.Hop*fs)) - n/2 - origin }
	// the floor of every channel, from every fifth frame, smoothed over time
	const every = 5
	floors := make([][][]float64, len(x))
	for c := range x {
		for i := from; i < to; i += every {
			if err := w.src.Stopped(); err != nil {
				return err
			}
			v.warps[0].apply(buf, x[c], start(i))
			w.power = plan.Power(w.power, buf)
			f := floor.Estimate(nil, w.power, 24, 0.3)
			bound(f, w.power)
			floors[c] = append(floors[c], f)
		}
		smoothLog(floors[c], int(0.3/w.opt.Hop/every))
		for _, f := range floors[c] {
			for k, v := range f {
				if v > 0 {
					f[k] = 1 / v // a division less per bin and warp
				}
			}
		}
	}
	ev, z := make([]float64, bins), make([]float64, bins)
	df := fs / float64(n)
	weight := w.opt.Hop / 0.128
	for i := from; i < to; i++ {
		if err := w.src.Stopped(); err != nil {
			return err
		}
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
		try := func(wp *warp) float64 {
			clear(ev)
			z := z
			clear(z)
			for c := range x {
				wp.apply(buf, x[c], start(i))
				w.power = plan.Power(w.power, buf)
				for k, g := range floors[c][(i-from)/every] {
					w.power[k] *= g
				}
				contrast(w.power, w.work)
				w.line.Add(ev, w.power)
				if len(x) == 1 {
					z = w.power
					break
				}
				for k, q := range w.power {
					z[k] += q
				}
			}
			best := 0.0
			for _, s := range w.scan(v, z, ev, df) {
				best = math.Max(best, s.Evidence)
				s.Slope = wp.slope
				s.Evidence *= weight
				moments[i].States = append(moments[i].States, s)
			}
			return best
		}
		v.climb(try)
	}
	return nil
}

// plain is clear evidence: a stack this strong at a slope that beats its neighbours is
// the one to be had in this frame; other slopes need no look.
const plain = 18.0

// climb tries slopes from none outwards: all of them where nothing is clear, and
// else as long as the evidence grows.
func (v *view) climb(try func(*warp) float64) {
	// warps are stored as none, -a, +a, -b, +b, ...
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
	still := try(at(0))
	left, right := try(at(-1)), try(at(1))
	top := math.Max(still, math.Max(left, right))
	for _, side := range []struct {
		sign int
		last float64
	}{{-1, left}, {1, right}} {
		last := side.last
		for k := 2; k <= reach; k++ {
			if top >= plain && last < top-3 {
				break // down the hill
			}
			last = try(at(side.sign * k))
			top = math.Max(top, last)
		}
	}
}

// The scan of a frame starts from its strongest lines: each could be any of the
// first harmonics of a comb.
const (
	seedLines     = 24
	seedHarmonics = 10
	statesPerView = 8
)

// scan returns the best rates of one frame from the normalised power z and the
// evidence ev of its bins.
func (w *worker) scan(v *view, z, ev []float64, df float64) []State {
	w.top, w.lines = w.top[:0], w.lines[:0]
	for k := 2; k < len(ev)-1; k++ {
		if ev[k] > 0.3 && z[k] > z[k-1] && z[k] >= z[k+1] {
			w.lines = append(w.lines, k)
		}
	}
	if len(w.lines) > seedLines {
		sort.Slice(w.lines, func(a, b int) bool { return z[w.lines[a]] > z[w.lines[b]] })
		w.lines = w.lines[:seedLines]
	}
	for _, k := range w.lines {
		// parabola through the logarithms of three bins
		a, b, c := math.Log(z[k-1]+1e-9), math.Log(z[k]), math.Log(z[k+1]+1e-9)
		f := (float64(k) + vertex(a, b, c)) * df
		for m := 1; m <= seedHarmonics; m++ {
			rate := f / float64(m)
			if rate < v.lo {
				break
			}
			if rate <= v.hi {
				w.keep(State{Rate: rate, Evidence: w.weigh(ev, rate/df)})
			}
		}
	}
	return w.top
}

// vertex returns where the parabola through a, b, c at -1, 0, 1 has its top,
// and 0 where it has none.
func vertex(a, b, c float64) float64 {
	d := a - 2*b + c
	if !(d < 0) {
		return 0
	}
	return math.Max(-0.5, math.Min(0.5, 0.5*(a-c)/d))
}

// weigh returns the evidence of the comb with lines step bins apart.
func (w *worker) weigh(ev []float64, step float64) float64 {
	run, best := 0.0, math.Inf(-1)
	top := float64(len(ev) - 2)
	x := step
	for _, prior := range w.prior {
		if x >= top {
			break
		}
		k := int(x)
		r := x - float64(k)
		run += ev[k] + r*(ev[k+1]-ev[k])
		if e := run + prior; e > best {
			best = e
		}
		x += step
	}
	return best
}

// keep adds s to the best states so far, in order, unless one like it is there.
func (w *worker) keep(s State) {
	for i, q := range w.top {
		if math.Abs(q.Rate/s.Rate-1) < 0.004 {
			if q.Evidence >= s.Evidence {
				return
			}
			w.top = append(w.top[:i], w.top[i+1:]...)
			break
		}
	}
	if len(w.top) == statesPerView {
		if s.Evidence <= w.top[statesPerView-1].Evidence {
			return
		}
		w.top = w.top[:statesPerView-1]
	}
	w.top = append(w.top, s)
	for j := len(w.top) - 1; j > 0 && w.top[j].Evidence > w.top[j-1].Evidence; j-- {
		w.top[j], w.top[j-1] = w.top[j-1], w.top[j]
	}
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
