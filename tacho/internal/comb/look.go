package comb

import (
	"math"
	"slices"

	"rotorhum/tacho/internal/evidence"
	"rotorhum/tacho/internal/floor"
	"rotorhum/tacho/internal/transform"
)

// look is the scratch memory of looking at frames of one view.
type look struct {
	view  *view
	plan  *transform.Real
	lines *lines
	buf   []float64
	power []float64
	ev, u []float32 // of all channels so far
	other []float32 // the evidence of the next one
	noise *floor.Blocks
	heard []heard // by channel
}

// heard is what is known of one channel: of every frame that the noise floor is
// taken from, the power with no warp and the logarithm of the floor in the blocks
// of the floor, nil for silence; and the logarithm for every bin of frame at.
type heard struct {
	power, floor [][]float64
	at           int
	bins         []float32
}

func newLook(v *view) *look {
	bins := v.n/2 + 1
	return &look{view: v, plan: transform.NewReal(v.n), lines: newLines(bins),
		buf: make([]float64, v.n), power: make([]float64, bins),
		ev: make([]float32, bins), other: make([]float32, bins), u: make([]float32, bins),
		noise: floor.NewBlocks(bins, 24, 0.3, 128),
	}
}

// frameRun is a run of moments and the samples that they need.
type frameRun struct {
	from, to int
	hop      float64 // seconds from one moment to the next
	perHop   float64 // samples
	origin   int     // the first of the samples
	x        [][]float64
}

// start returns where the frame for hop moments from i on begins.
func (f frameRun) start(v *view, i, hop int) int {
	middle := (float64(i) + float64(hop-1)/2) * f.perHop
	return int(math.Round(middle)) - v.n/2*v.by - f.origin
}

const (
	// floorHops is how many moments apart the floor is taken, or somewhat more,
	// and floorSeconds the time to either side over which it is averaged.
	floorHops    = 6
	floorSeconds = 0.3
)

// frames adds the candidates of a run of moments that have the least evidence, and
// more, to out, a frame at a time.
func (l *look) frames(f frameRun, out []found, c *combs, least float64, stopped func() error) error {
	v := l.view
	hop := min(v.hop, f.to-f.from)
	every := (floorHops + hop - 1) / hop // frames
	for ch := range f.x {
		if ch == len(l.heard) {
			l.heard = append(l.heard, heard{})
		}
		h := &l.heard[ch]
		k := 0
		for i := f.from; i < f.to; i += hop * every {
			if err := stopped(); err != nil {
				return err
			}
			v.warps[0].apply(l.buf, f.x[ch], f.start(v, i, hop))
			h.take(k, l)
			k++
		}
		h.floor, h.at = h.floor[:k], -1
		average(h.floor, int(floorSeconds/f.hop)/(hop*every))
	}
	weight := f.hop / 0.128
	for n, i := 0, f.from; i < f.to; n, i = n+1, i+hop {
		if err := stopped(); err != nil {
			return err
		}
		start := f.start(v, i, hop)
		if silent(f.x, start, v) {
			continue
		}
		v.climb(out[i-f.from].plainest.Rate, func(wp *warp) State {
			clear(l.ev)
			u := l.lines.u
			for ch, x := range f.x {
				power := l.power
				if n%every == 0 && wp == v.warps[0] {
					power = l.heard[ch].power[n/every]
				} else {
					wp.apply(l.buf, x, start)
					l.plan.Power(power, l.buf)
				}
				ev := l.ev
				if ch > 0 {
					ev = l.other
					clear(ev)
				}
				l.lines.weigh(ev, power, l.heard[ch].level(n/every, l.noise, len(ev)), c.curve)
				if len(f.x) == 1 {
					continue
				}
				u = l.u
				if ch == 0 {
					copy(u, l.lines.u)
					continue
				}
				for k, b := range l.lines.u {
					u[k] = max(u[k], b)
					l.ev[k] = evidence.Join(l.ev[k], ev[k])
				}
			}
			var best State
			for j := i; j < min(i+hop, f.to); j++ {
				out[j-f.from].begin()
			}
			for _, s := range c.scan(v, u, l.ev) {
				if s.Evidence > best.Evidence {
					best = s
				}
				s.Slope = wp.slope
				for j := i; j < min(i+hop, f.to); j++ {
					q := s
					q.Rate *= 1 + s.Slope*f.hop*(float64(j-i)-float64(hop-1)/2)
					if q.Evidence >= plain && q.Evidence > out[j-f.from].plainest.Evidence {
						out[j-f.from].plainest = q
					}
					if q.Evidence *= weight; !(q.Evidence >= least) {
						continue
					}
					out[j-f.from].states = append(out[j-f.from].states, q)
				}
			}
			return best
		})
	}
	return nil
}

// silent reports whether the frame that begins at start holds nothing but zeros.
func silent(x [][]float64, start int, v *view) bool {
	for _, ch := range x {
		for _, a := range ch[start : start+v.n*v.by] {
			if a != 0 {
				return false
			}
		}
	}
	return true
}

// take keeps the power and the floor of the frame in l.buf at place k.
func (h *heard) take(k int, l *look) {
	if k == len(h.floor) {
		h.floor = append(h.floor, nil)
	}
	if k == len(h.power) {
		h.power = append(h.power, make([]float64, len(l.power)))
	}
	p := l.plan.Power(h.power[k], l.buf)
	top := slices.Max(p)
	if top == 0 {
		h.floor[k] = nil
		return
	}
	f := make([]float64, l.noise.Len())
	l.noise.Levels(f, p, 10)
	least := range60 * top
	for i, v := range f {
		if !(v > least) {
			v = least
		}
		f[i] = math.Log2(v)
	}
	h.floor[k] = f
}

// average replaces every floor by the mean of those up to half places away, and
// leaves silence.
func average(floors [][]float64, half int) {
	var sum []float64 // of those before, per block
	sums := make([][]float64, len(floors)+1)
	count := make([]int, len(floors)+1)
	for i, f := range floors {
		count[i+1] = count[i]
		if f != nil {
			count[i+1]++
			next := make([]float64, len(f))
			copy(next, sum)
			for k, v := range f {
				next[k] += v
			}
			sum = next
		}
		sums[i+1] = sum
	}
	for i, f := range floors {
		lo, hi := max(0, i-half), min(len(floors), i+half+1)
		for k := range f {
			f[k] = sums[hi][k]
			if sums[lo] != nil {
				f[k] -= sums[lo][k]
			}
			f[k] /= float64(count[hi] - count[lo])
		}
	}
}

// level returns the logarithm of the noise floor in every bin around place k.
func (h *heard) level(k int, b *floor.Blocks, bins int) []float32 {
	if h.at == k {
		return h.bins
	}
	h.at = k
	if h.bins == nil {
		h.bins = make([]float32, bins)
	}
	if h.floor[k] == nil {
		for i := range h.bins {
			h.bins[i] = nothing
		}
		return h.bins
	}
	b.Join(h.floor[k], func(bin int, v float64) { h.bins[bin] = float32(v) })
	return h.bins
}
