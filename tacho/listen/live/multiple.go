package live

import (
	"math"
	"sync"

	"rotorhum/tacho/internal/comb"
	"rotorhum/tacho/internal/evidence"
)

const (
	// weighMemory is the share of a look that counts at the next.
	weighMemory = 0.95
	// changeMind is how much better another multiple must be, in nats, before the
	// reading leaves the one it has shown.
	changeMind = 4.0
	// unequalBlades is what it costs, in nats, to believe in blades so unlike that
	// the lines between those of the pulses are as clear as they.
	unequalBlades = 3.0
)

// reading is one way to read a stack: num/den times the rate that was first
// followed.
type reading struct {
	num, den int
	score    float64
}

func (r reading) ratio() float64 { return float64(r.num) / float64(r.den) }

// weights are the readings of the stack that is followed, weighed on its lines
// again and again.
type weights struct {
	list  []reading
	now   int // the reading that is followed
	looks int
}

// known reports whether the multiples were weighed at all.
func (w *weights) known() bool { return w.looks > 0 }

// whole returns the whole number, or one over it, up to 8 or z, that r is within one
// per cent; 0 if it is none.
func whole(r float64, z int) float64 {
	for k := 1.0; k <= math.Max(8, float64(z)); k++ {
		if k <= 8 || k == float64(z) {
			if math.Abs(r/k-1) < 0.01 {
				return k
			}
			if math.Abs(r*k-1) < 0.01 {
				return 1 / k
			}
		}
	}
	return 0
}

// readings lists the ratios that are weighed for z pulses in a turn.
func readings(z int) []reading {
	var out []reading
	add := func(num, den int) {
		a, b := num, den
		for b != 0 {
			a, b = b, a%b
		}
		num, den = num/a, den/a
		for _, r := range out {
			if r.num == num && r.den == den {
				return
			}
		}
		out = append(out, reading{num: num, den: den})
	}
	for num := 1; num <= 8; num++ {
		for den := 1; den <= 6; den++ {
			add(num, den)
		}
	}
	if z > 1 {
		for k := 1; k <= 3; k++ {
			add(z, k)
			add(k, z)
		}
	}
	return out
}

// The tables of evidence, made when the first sound is followed.
var (
	sureLine   = sync.OnceValue(func() *evidence.Line { return evidence.New(0.75, 2e-3) })
	maybeLines = sync.OnceValue(func() []*evidence.Line {
		return []*evidence.Line{evidence.New(0.03, 2e-3), evidence.New(0.15, 2e-3), evidence.New(0.5, 2e-3)}
	})
)

// weigh weighs the multiples on what was followed, and returns the factor by which
// the rate must change, 1 unless another is much better.
func (t *tracker) weigh(f *followed, s *memory) (factor float64, err error) {
	w := &t.lock.weights
	if w.list == nil {
		w.list = readings(t.opt.Pulses)
	}
	o, err := t.orders(f, s)
	if err != nil || o == nil {
		return 1, err
	}
	w.looks++
	z := t.opt.Pulses
	cur := w.list[w.now].ratio()
	lo, hi := math.Inf(1), 0.0
	for _, m := range f.motion {
		lo, hi = math.Min(lo, m.Omega/(2*math.Pi)), math.Max(hi, m.Omega/(2*math.Pi))
	}
	for i := range w.list {
		r := &w.list[i]
		base := r.ratio() / cur
		e := math.Inf(-1)
		switch {
		case hi*base > 1.02*float64(t.opt.Range.Hi) || hi*base < float64(t.opt.Range.Lo):
		case z == 1:
			e = o.Evidence(base, 1, sureLine(), sureLine())
		default:
			for _, maybe := range maybeLines() {
				e = math.Max(e, o.Evidence(base/float64(z), z, sureLine(), maybe))
			}
		}
		r.score = weighMemory*r.score + math.Max(e, -100)
	}
	best := w.best()
	// where every d-th line is stronger than those between, d a divisor of z, they
	// are those of unequal blades
	if z > 1 {
		b := w.list[best]
		if d, nats := o.Pattern(b.ratio()/cur, z); d > 1 {
			for i, r := range w.list {
				if r.num*b.den == d*b.num*r.den {
					cost := unequalBlades
					if d < z {
						cost *= 2
					}
					w.list[i].score = math.Max(r.score, b.score+math.Min(nats, 12)-cost)
				}
			}
			best = w.best()
		}
	}
	lead := w.value(best) - w.value(w.now)
	if best == w.now || w.looks > 1 && lead < changeMind {
		return 1, nil
	}
	w.now = best
	return w.list[best].ratio() / cur, nil
}

// value is the score of a reading: odd ratios are rarer than simple ones.
func (w *weights) value(i int) float64 {
	r := w.list[i]
	return r.score - 1.2*math.Log(float64(r.num*r.den))
}

func (w *weights) best() int {
	best := 0
	for i := range w.list {
		if w.value(i) > w.value(best) {
			best = i
		}
	}
	return best
}

// orders returns the order spectrum of what was followed; nil where that is too
// short.
func (t *tracker) orders(f *followed, s *memory) (*comb.Orders, error) {
	z := t.opt.Pulses
	b, m := f.fit.Blocks, f.motion[f.lead:]
	turn := func(at float64) float64 {
		i := 1
		for i+1 < len(b) && b[i].T < at {
			i++
		}
		h := b[i].T - b[i-1].T
		u := (at - b[i-1].T) / h
		if u < 0 || u > 1 {
			k := i - 1
			if u > 1 {
				k = i
			}
			return (m[k].Phi + m[k].Omega*(at-b[k].T)) / (2 * math.Pi)
		}
		return hermite(u, m[i-1].Phi, m[i].Phi, h*m[i-1].Omega, h*m[i].Omega) / (2 * math.Pi)
	}
	x, _ := s.from(int(math.Round(f.origin * t.fs)))
	src, err := sourceOf(x, t.fs, t.fs)
	if err != nil {
		return nil, err
	}
	per := 48
	if z > 6 {
		per = min(144, 8*z)
	}
	for ; per >= 12; per /= 2 {
		o, err := comb.NewOrders(src, turn, b[0].T, b[len(b)-1].T, per, min(lineHarmonics*z, 160))
		if o != nil || err != nil {
			return o, err
		}
	}
	return nil, nil
}

// hermite is the cubic with values a, b and slopes da, db at 0 and 1.
func hermite(u, a, b, da, db float64) float64 {
	u2, u3 := u*u, u*u*u
	return a*(2*u3-3*u2+1) + b*(3*u2-2*u3) + da*(u3-2*u2+u) + db*(u3-u2)
}
