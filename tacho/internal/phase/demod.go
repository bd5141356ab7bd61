package phase

import (
	"math"
	"sort"
	"sync"

	"rotorhum/tacho/internal/sound"
	"rotorhum/tacho/internal/work"
)

// Course is an approximate rate over time, by knots in order of time; between
// knots the rate changes linearly.
type Course struct {
	T, Rate []float64
	// Bend, if not nil, is the relative error to expect at each knot beyond the
	// usual, as where the speed changes suddenly.
	Bend []float64
}

// Add adds a knot behind the others, at which an error of bend is to be expected.
func (c *Course) Add(t, rate, bend float64) {
	c.T, c.Rate, c.Bend = append(c.T, t), append(c.Rate, rate), append(c.Bend, bend)
}

// Rounded returns the error to expect at t beyond the usual, relative.
func (c Course) Rounded(t float64) float64 {
	if c.Bend == nil {
		return 0
	}
	i := sort.SearchFloat64s(c.T, t)
	return max(c.Bend[max(i-1, 0)], c.Bend[min(i, len(c.T)-1)])
}

// At returns the rate at t, that of the nearest knot outside.
func (c Course) At(t float64) float64 {
	i := sort.SearchFloat64s(c.T, t)
	switch {
	case i == 0:
		return c.Rate[0]
	case i == len(c.T):
		return c.Rate[i-1]
	}
	f := (t - c.T[i-1]) / (c.T[i] - c.T[i-1])
	return c.Rate[i-1] + f*(c.Rate[i]-c.Rate[i-1])
}

// phase returns the phase of the course, in radians, as a function of time.
func (c Course) phase() func(t float64) float64 {
	at := make([]float64, len(c.T))
	for i := 1; i < len(at); i++ {
		at[i] = at[i-1] + math.Pi*(c.Rate[i]+c.Rate[i-1])*(c.T[i]-c.T[i-1])
	}
	return func(t float64) float64 {
		i := min(max(sort.SearchFloat64s(c.T, t), 1), len(at)-1)
		return at[i-1] + math.Pi*(c.Rate[i-1]+c.rateAt(t, i-1))*(t-c.T[i-1])
	}
}

// Block is a short piece of sound, demodulated along a course.
type Block struct {
	T float64 // centre, seconds
	// Length is the length of the whole block in seconds.
	Length float64
	// Phi is the phase of the course at T in radians.
	Phi float64
	// Sum is the sum of the weights and the weights have unit energy: a line
	// of complex amplitude a gives a*Sum/2, noise of variance s a variance s.
	Sum float64
	// Y holds, per channel, the demodulated half orders: Y[c][h-1] belongs to
	// h/2 times the rate. Odd h lie between the lines and show the noise.
	Y [][]complex128
}

// Demodulate cuts the stretch that the course covers into overlapping Hann
// blocks of cycles cycles (at least shortest seconds long), hop half a block,
// and demodulates in each all half orders up to harmonics + 1/2. With four
// cycles or more a Hann block keeps lines and the places half-way apart.
//
// The sound is read some seconds at a time.
func Demodulate(src *sound.Source, c Course, harmonics int, cycles, shortest float64) ([]Block, error) {
	fs := src.Rate
	first := int(math.Ceil(c.T[0] * fs))
	last := min(int(c.T[len(c.T)-1]*fs), src.Frames-1)
	if last <= first {
		return nil, nil
	}
	n := last - first + 1
	r := reels.Get().(*reel)
	defer reels.Put(r)
	r.start(c, fs, first)
	var blocks []Block
	var cuts []cut
	centre := math.Max(shortest, cycles/c.rateAt(float64(first)/fs, 0)) * fs / 2
	for int(centre) < n {
		if err := src.Stopped(); err != nil {
			return nil, err
		}
		// what no block needs any more goes, and the next samples come
		longest := max(shortest, cycles/c.lowest()) * fs
		from := max(r.from, int(centre-longest/2)-2)
		end := min(n, max(from, int(centre))+atOnce+int(longest)+4)
		r.wind(from, end)
		var err error
		if r.x, err = src.Block(r.x, first+from, end-from); err != nil {
			return nil, err
		}
		x := r.x
		cuts = cuts[:0]
		for {
			i := int(centre)
			if i >= n || i >= end {
				break
			}
			length := max(shortest, cycles/r.rate[i-from]) * fs
			lo, hi := int(math.Ceil(centre-length/2)), int(math.Floor(centre+length/2))
			if hi >= end && end < n {
				break
			}
			if lo >= from && hi < n {
				cuts = append(cuts, cut{centre, length, lo, hi})
			}
			centre += length / 2
		}
		if len(cuts) == 0 {
			continue
		}
		halves := 2*harmonics + 1
		room := make([]complex128, len(cuts)*len(x)*halves)
		lists := make([][]complex128, len(cuts)*len(x))
		fresh := make([]Block, len(cuts))
		const share = 32 // blocks to a job
		work.Each((len(cuts)+share-1)/share, func(job int) {
			d := demodulators.Get().(*demodulator)
			defer demodulators.Put(d)
			for i := job * share; i < min(len(cuts), (job+1)*share); i++ {
				q := cuts[i]
				k := min(int(q.centre), n-2) - from
				b := Block{T: (float64(first) + q.centre) / fs, Length: q.length / fs, Y: lists[i*len(x) : (i+1)*len(x)]}
				b.Phi = r.phi[k] + (q.centre-float64(k+from))*(r.phi[k+1]-r.phi[k])
				b.Sum = d.window(q)
				for ch := range x {
					y := room[(i*len(x)+ch)*halves:][:halves:halves]
					d.demodulate(y, x[ch][q.lo-from:q.hi+1-from], r.re[q.lo-from:], r.im[q.lo-from:])
					b.Y[ch] = y
				}
				fresh[i] = b
			}
		})
		blocks = append(blocks, fresh...)
	}
	return blocks, nil
}

// atOnce is about how many samples are demodulated in one go.
const atOnce = 1 << 17

// cut is where a block lies, in samples from the start of the course.
type cut struct {
	centre, length float64
	lo, hi         int
}

// rateAt returns the rate at t, which is not before knot k, without a search.
func (c Course) rateAt(t float64, k int) float64 {
	f := (t - c.T[k]) / (c.T[k+1] - c.T[k])
	return c.Rate[k] + f*(c.Rate[k+1]-c.Rate[k])
}

// lowest returns the lowest rate of the course.
func (c Course) lowest() float64 {
	low := c.Rate[0]
	for _, r := range c.Rate {
		low = min(low, r)
	}
	return low
}

// reel holds the course at some samples in a row: its rate, its phase, and half
// an order, exp(-j phi/2).
type reel struct {
	course    Course
	fs        float64
	first     int // the course's first sample
	from      int // where the slices begin, counted from there
	knot      int
	rate, phi []float64
	re, im    []float64
	x         [][]float64 // the sound there
}

// reels are those that nobody uses now.
var reels = sync.Pool{New: func() any { return new(reel) }}

// start makes r one of course c from sample first on.
func (r *reel) start(c Course, fs float64, first int) {
	*r = reel{course: c, fs: fs, first: first, rate: r.rate[:0], phi: r.phi[:0], re: r.re[:0], im: r.im[:0], x: r.x}
}

// exact is the number of samples after which half an order is computed anew
// instead of from the one before.
const exact = 64

// wind moves on to samples from to end-1; from must not lie before r.from or
// behind what is there.
func (r *reel) wind(from, end int) {
	keep := func(x []float64) []float64 {
		// a vector beyond the end may be read
		y := x[:copy(x, x[min(from-r.from, len(x)):])]
		if cap(y) < end-from+4 {
			y = append(make([]float64, 0, max(end-from+4, 5*cap(y)/4)), y...)
		}
		return y
	}
	r.rate, r.phi, r.re, r.im = keep(r.rate), keep(r.phi), keep(r.re), keep(r.im)
	r.from = from
	c := r.course
	i := from + len(r.phi)
	have := len(r.phi)
	r.rate, r.phi, r.re, r.im = r.rate[:end-from], r.phi[:end-from], r.re[:end-from], r.im[:end-from]
	if have == 0 {
		r.phi[0], r.rate[0] = 0, c.rateAt(float64(r.first+i)/r.fs, 0)
		r.re[0], r.im[0] = 1, 0
		have = 1
	}
	k := r.knot
	since := exact // samples since the last exact one
	var turn, bend complex128
	slope := (c.Rate[k+1] - c.Rate[k]) / (c.T[k+1] - c.T[k])
	for i := have; i < end-from; i++ {
		t := float64(r.first+from+i) / r.fs
		for k+2 < len(c.T) && c.T[k+1] < t {
			k++
			slope = (c.Rate[k+1] - c.Rate[k]) / (c.T[k+1] - c.T[k])
			since = exact
		}
		// the phase by the trapezoid rule, exact for a rate that is linear
		// between knots
		r.rate[i] = c.Rate[k] + slope*(t-c.T[k])
		r.phi[i] = r.phi[i-1] + math.Pi*(r.rate[i]+r.rate[i-1])/r.fs
		if since++; since > exact {
			since = 0
			s, co := math.Sincos(r.phi[i] / 2)
			r.re[i], r.im[i] = co, -s
			// the rate rises by the same from sample to sample
			rise := slope / r.fs
			s, co = math.Sincos(math.Pi * (r.rate[i] + rise/2) / r.fs)
			turn = complex(co, -s)
			s, co = math.Sincos(math.Pi * rise / r.fs)
			bend = complex(co, -s)
			continue
		}
		e := complex(r.re[i-1], r.im[i-1]) * turn
		r.re[i], r.im[i] = real(e), imag(e)
		turn *= bend
	}
	r.knot = k
}

// demodulator is the scratch memory of demodulating blocks.
type demodulator struct {
	w, re, im []float64
}

// demodulators are those that nobody uses now.
var demodulators = sync.Pool{New: func() any { return new(demodulator) }}

// window makes the Hann window of a block with unit energy and returns its sum.
func (d *demodulator) window(q cut) float64 {
	n := q.hi - q.lo + 1
	d.w, d.re, d.im = sized(d.w, n+3), sized(d.re, n+3), sized(d.im, n+3)
	w := d.w[:n]
	step := 2 * math.Pi / q.length
	// two cosines a turn of two steps apart from each other
	s0, c0 := math.Sincos(step * (float64(q.lo) - q.centre))
	s1, c1 := math.Sincos(step * (float64(q.lo+1) - q.centre))
	rs, rc := math.Sincos(2 * step)
	var e, sum float64
	for i := 0; i+1 < n; i += 2 {
		a, b := 1+c0, 1+c1
		w[i], w[i+1] = a, b
		sum += a + b
		e += a*a + b*b
		c0, s0 = c0*rc-s0*rs, s0*rc+c0*rs
		c1, s1 = c1*rc-s1*rs, s1*rc+c1*rs
	}
	if n%2 == 1 {
		a := 1 + c0
		w[n-1] = a
		sum += a
		e += a * a
	}
	g := 1 / math.Sqrt(e)
	for i := range w {
		w[i] *= g
	}
	return sum * g
}

// demodulate sets y[h-1] to the sum of x w exp(-j h phi/2), where re and im
// hold exp(-j phi/2) and can be read for a vector beyond x.
func (d *demodulator) demodulate(y []complex128, x, re, im []float64) {
	n := (len(x) + 3) &^ 3
	p, q := d.re[:n], d.im[:n]
	w := d.w[:len(x)]
	for i, v := range x {
		p[i] = v * w[i]
	}
	clear(p[len(x):])
	clear(q)
	re, im = re[:n:cap(re)], im[:n:cap(im)]
	for h := 0; h < len(y); h += 2 {
		a, b, c, e := turnTwice(p, q, re, im)
		y[h] = complex(a, b)
		if h+1 < len(y) {
			y[h+1] = complex(c, e)
		}
	}
}

// sized returns x with length n, whatever is in it.
func sized(x []float64, n int) []float64 {
	if cap(x) < n {
		return make([]float64, n)
	}
	return x[:n]
}

// turnTwiceGo multiplies p + jq by re + j im twice and returns the sums of
// both products. The lengths are the same multiple of 4.
func turnTwiceGo(p, q, re, im []float64) (a, b, c, d float64) {
	q, re, im = q[:len(p)], re[:len(p)], im[:len(p)]
	for i, x := range p {
		y, u, v := q[i], re[i], im[i]
		x, y = x*u-y*v, x*v+y*u
		a += x
		b += y
		x, y = x*u-y*v, x*v+y*u
		c += x
		d += y
		p[i], q[i] = x, y
	}
	return a, b, c, d
}
