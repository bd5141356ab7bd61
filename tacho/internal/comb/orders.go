package comb

import (
	"math"
	"slices"

	"rotorhum/tacho/internal/evidence"
	"rotorhum/tacho/internal/rank"
	"rotorhum/tacho/internal/sound"
	"rotorhum/tacho/internal/transform"
)

// Orders is the mean power spectrum of a stretch of sound in units of its own
// changing rate: order 1 is the rate itself, whatever it was at the time.
type Orders struct {
	// Per is the number of bins per order.
	Per int
	// Z is the excess of the power of each bin over its neighbourhood, in units
	// of the scatter there.
	Z []float64
	// Raw is the mean power of each bin, as recorded.
	Raw []float64
	// Segments is the number of independent segments averaged.
	Segments float64
	// Top is the highest order below half the sampling rate at all times.
	Top float64

	// looks is the number of independent looks at each bin: as many as segments,
	// fewer where the power scatters more.
	looks []float64
	// scores are the bins as normalised powers, lines their evidence, by the kind of
	// line; both are found when first asked for.
	scores []float64
	lines  map[*evidence.Line][]float64
	// heard are the shares of the segments that tell anything of each bin, nil if all
	// tell of every bin.
	heard []float64
	// low are the summed powers of the bins below order 1, each segment's over its level.
	low []float64
}

// orderTools are what segments of one length need.
type orderTools struct {
	plan  *transform.Real
	taper []float64
}

// rateFunc tells the phase in turns at a time; it must increase.
type phaseFunc func(t float64) float64

// NewOrders averages the order spectra of segments of per turns between times
// from and to, where turn(t) is the phase in turns. It returns nil if not even
// one segment fits.
func NewOrders(src *sound.Source, turn phaseFunc, from, to float64, per, harmonics int) (*Orders, error) {
	return NewOrdersBeside(nil, src, turn, from, to, per, harmonics)
}

// NewOrdersBeside is NewOrders beside others, nil for none: a segment tells nothing of
// the places where their lines lie.
func NewOrdersBeside(others Strangers, src *sound.Source, turn phaseFunc, from, to float64, per, harmonics int) (*Orders, error) {
	fs := src.Rate
	t0, t1 := turn(from), turn(to)
	count := int((t1-t0)/float64(per)*2) - 1
	if count < 1 {
		return nil, nil
	}
	// a long stretch is sampled: some 400 segments say all there is to say
	stride := 1 + count/400
	o := &Orders{Per: per, Top: float64(harmonics)}
	var buf, p, work []float64
	var x [][]float64
	tools := map[int]orderTools{} // by length of the transform
	var hidden []bool             // bins of which this segment tells nothing
	used := 0
	at := from
	for s := 0; s < count; s += stride {
		a := t0 + float64(s)*float64(per)/2
		b := a + float64(per)
		ta := invert(turn, a, at, to)
		tb := invert(turn, b, ta, to)
		at = ta
		first := int(ta*fs) - 3
		n := int((tb-ta)*fs) + 8
		o.Top = math.Min(o.Top, 0.47*fs*(tb-ta)/float64(per)*0.9)
		size := 1
		for float64(size) < 1.25*float64(n) {
			size *= 2
		}
		var err error
		if x, err = src.Block(x, first, n); err != nil {
			return nil, err
		}
		tool, ok := tools[size]
		if !ok {
			tool = orderTools{transform.NewReal(size), quiet(size)}
			tools[size] = tool
		}
		if cap(buf) < size {
			buf, p = make([]float64, size), make([]float64, size/2+1)
		}
		buf, p = buf[:size], p[:size/2+1]
		bins := min(size/2, per*harmonics+2*contrastHalf)
		if o.Z == nil {
			o.Z = make([]float64, per*harmonics+contrastHalf)
			o.Raw = make([]float64, len(o.Z))
			work = make([]float64, len(o.Z)+2*contrastHalf+2)
			if others != nil {
				o.heard, hidden = make([]float64, len(o.Z)), make([]bool, len(o.Z))
			}
		}
		others.mark(hidden, ta, tb, float64(per))
		// where each of the equally spaced phases lies, from a few exact ones
		between := curve{}
		guess := ta
		var exact [knots + 1]float64
		for k := range exact {
			exact[k] = invert(turn, a+(b-a)*float64(k)/knots, guess, tb)
			guess = exact[k]
		}
		between.through(&exact)
		for c := range x {
			for i := range buf {
				pos := between.at(float64(i)/float64(size)*knots)*fs - float64(first)
				j := int(pos)
				if j < 1 {
					j = 1
				}
				if j > n-3 {
					j = n - 3
				}
				g := pos - float64(j)
				q := x[c][j-1 : j+3]
				v := q[1] + 0.5*g*(q[2]-q[0]+g*(2*q[0]-5*q[1]+4*q[2]-q[3]+g*(3*(q[1]-q[2])+q[3]-q[0])))
				buf[i] = v * tool.taper[i]
			}
			tool.plan.Power(p, buf)
			z := p[:min(bins, len(o.Z))]
			addHeard(o.Raw, z, hidden)
			o.addLow(z, hidden)
			normalise(z, work)
			addHeard(o.Z, z, hidden)
			for k, none := range hidden {
				if !none {
					o.heard[k]++
				}
			}
		}
		used += len(x)
	}
	o.Segments = float64(used)
	o.leaveOut()
	o.standardise()
	return o, nil
}

// knots is the number of parts of a segment between moments whose phase is exact.
const knots = 64

// curve holds the cubics between the knots, each by its coefficients.
type curve [knots][4]float64

// through sets the curve to go through values at the knots, with slopes that are exact
// for a phase of constant acceleration: chords would bend the phase anew in every part,
// and lines of high order would get lines beside them.
func (c *curve) through(v *[knots + 1]float64) {
	slope := func(k int) float64 {
		switch k {
		case 0:
			return (4*v[1] - 3*v[0] - v[2]) / 2
		case knots:
			return (3*v[k] - 4*v[k-1] + v[k-2]) / 2
		}
		return (v[k+1] - v[k-1]) / 2
	}
	for k := range c {
		d, e, rise := slope(k), slope(k+1), v[k+1]-v[k]
		c[k] = [4]float64{v[k], d, 3*rise - 2*d - e, d + e - 2*rise}
	}
}

// at returns the value at u, counted in knots from the first.
func (c *curve) at(u float64) float64 {
	k := int(u)
	f := u - float64(k)
	q := &c[k]
	return q[0] + f*(q[1]+f*(q[2]+f*q[3]))
}

// standardise turns the summed power of every bin into its excess over the
// median of its neighbourhood, in units of the scatter found there.
func (o *Orders) standardise() {
	n := len(o.Z)
	half := max(o.Per, contrastHalf)
	out := make([]float64, n)
	o.looks = make([]float64, n)
	var around rank.Window
	from, end := 0, 0 // of what is in it
	for k := range o.Z {
		lo, hi := max(1, k-half), min(n, k+half+1)
		for ; end < hi; end++ {
			if !o.hides(end) {
				around.Add(o.Z[end])
			}
		}
		for ; from < lo; from++ {
			if !o.hides(from) {
				around.Drop(o.Z[from])
			}
		}
		if o.hides(k) || around.Len() == 0 {
			continue
		}
		m := around.At(around.Len() / 2)
		if !(m > 0) {
			continue
		}
		scatter := around.Distance(around.Len()/2, around.Len()/2, func(v float64) float64 { return math.Abs(v/m - 1) })
		sd := math.Max(1.4826*scatter, 1/math.Sqrt(o.Segments))
		if o.heard != nil {
			sd /= math.Sqrt(o.heard[k])
		}
		out[k] = (math.Min(o.Z[k]/m, o.steepest(k)) - 1) / sd
		o.looks[k] = 1 / (sd * sd)
	}
	loudest := 0.0
	for k, v := range out {
		if v > leastExcess {
			loudest = math.Max(loudest, o.Raw[k])
		}
	}
	// what stands far below a line nearby may be no more than its skirt, and below
	// all that counts is what filters let through: images, and sums of the two
	for k, v := range out {
		lo, hi := max(0, k-3*o.Per/2), min(n, k+3*o.Per/2+1)
		if v > 0 && (v < skirt*slices.Max(out[lo:hi]) || o.Raw[k] < range60*loudest) {
			out[k] = 0
		}
	}
	// one line is one place: of its main lobe only the top counts
	for k := range o.Z {
		lo, hi := max(0, k-lobe), min(n, k+lobe+1)
		top := lo
		for j := lo; j < hi; j++ {
			if out[j] > out[top] {
				top = j
			}
		}
		o.Z[k] = 0
		if top >= k-1 && top <= k+1 {
			o.Z[k] = out[k]
		}
	}
}

// skirt is the power, relative to the strongest line nearby, below which a
// line is not believed: a rotor's line has skirts of its own, since its speed
// is never quite smooth.
const skirt = 2e-4

// lobe is half the width of the main lobe of the window, in bins.
const lobe = 4

// quiet is the four-term Blackman-Harris window (side lobes at -92 dB, Harris
// 1978) scaled to unit energy.
func quiet(n int) []float64 {
	w := make([]float64, n)
	e := 0.0
	for i := range w {
		x := 2 * math.Pi * (float64(i) + 0.5) / float64(n)
		w[i] = 0.35875 - 0.48829*math.Cos(x) + 0.14128*math.Cos(2*x) - 0.01168*math.Cos(3*x)
		e += w[i] * w[i]
	}
	for i := range w {
		w[i] /= math.Sqrt(e)
	}
	return w
}

// invert finds the time at which turn reaches v, at or after guess.
func invert(turn phaseFunc, v, guess, limit float64) float64 {
	lo, hi := guess, limit
	for i := 0; i < 60 && hi-lo > 1e-9; i++ {
		m := (lo + hi) / 2
		if i < 8 { // secant first, it is nearly a straight line
			a, b := turn(lo), turn(hi)
			if b > a {
				m = lo + (v-a)/(b-a)*(hi-lo)
				w := (hi - lo) * 1e-3
				m = math.Min(math.Max(m, lo+w*1e-3), hi-w*1e-3)
			}
		}
		if turn(m) < v {
			lo = m
		} else {
			hi = m
		}
	}
	return (lo + hi) / 2
}

// normalise divides power by the geometric mean of its neighbourhood, taking
// the lines themselves out by a second look.
func normalise(z, work []float64) {
	n := len(z)
	const half = contrastHalf
	const shift = 0.5772156649 / math.Ln2
	sum := 0.0
	work[0] = 0
	for i, v := range z {
		work[i+1] = fastLog2(v * 1e12)
		sum += work[i+1]
	}
	// nothing counts for more than 16 times the geometric mean
	top := sum/float64(n) + 4
	for i := range z {
		work[i+1] = work[i] + min(work[i+1], top)
	}
	for i := range z {
		lo, hi := max(0, i-half), min(n, i+half+1)
		z[i] *= 1e12 * fastExp2(-((work[hi]-work[lo])/float64(hi-lo) + shift))
	}
}

// fastLog2 is the binary logarithm of x > 0 within 0.03 and without bias to
// speak of: the exponent of the number and a chord for its mantissa.
func fastLog2(x float64) float64 {
	b := math.Float64bits(x + 1e-9)
	e := float64(int(b>>52) - 1023)
	f := float64(b&(1<<52-1)) * (1.0 / (1 << 52))
	return e + f*(1.3465-0.3465*f)
}

// fastExp2 is 2^x within 0.3 % for |x| < 1000.
func fastExp2(x float64) float64 {
	k := math.Floor(x)
	f := x - k
	return math.Float64frombits(uint64(int(k)+1023)<<52) * (1 + f*(0.6565+0.3435*f))
}
