package tacho

import (
	"math"
	"sort"
	"sync"

	"rotorhum/tacho/internal/comb"
	"rotorhum/tacho/internal/evidence"
	"rotorhum/tacho/internal/sound"
)

// reading is one way to read a stack of lines: a pulse rate of num/den times
// the one that was followed.
type reading struct {
	num, den int
	rate     float64 // instead of num/den where it is no ratio of small numbers
	score    float64 // nats
}

func (r reading) ratio() float64 {
	if r.den == 0 {
		return r.rate
	}
	return float64(r.num) / float64(r.den)
}

// weigher weighs readings of one stretch by its order spectrum.
type weigher struct {
	o *comb.Orders
	z int // pulses per turn
	// lo and hi bound the ratios to what was followed that lie in the range, slowest
	// those that are weighed, and below is what those below the range cost.
	slowest, lo, hi, below float64
	// sure is the evidence of lines at multiples of the pulse rate, and maybe that
	// of those between for blades that are more and more unequal.
	sure  *evidence.Line
	maybe []*evidence.Line
	// alike is the evidence of the readings, by their ratio, if there is hardly a line
	// between the pulses.
	alike map[float64]float64
}

// weighReadings returns the order spectrum of one stretch and its readings,
// best first.
func weighReadings(src *sound.Source, s *stretch, opt Options) (*comb.Orders, []reading, error) {
	w, err := newWeigher(src, s, opt)
	if w == nil || err != nil {
		return nil, nil, err
	}
	list := w.readings()
	if len(list) == 0 {
		return w.o, nil, nil
	}
	lo, hi := s.fit.Slowest()/(2*math.Pi), s.fit.Fastest()/(2*math.Pi)
	return w.o, w.twoRotors(list, float64(DefaultRange.Lo)/lo, float64(DefaultRange.Hi)/hi), nil
}

// weighAlone is weighReadings for a stretch beside which nothing else sounds.
func weighAlone(src *sound.Source, s *stretch, opt Options) (*comb.Orders, []reading, error) {
	w, err := newWeigher(src, s, opt)
	if w == nil || err != nil {
		return nil, nil, err
	}
	return w.o, w.readings(), nil
}

// newWeigher returns what weighs the readings of one stretch, nil if that is too
// short for an order spectrum.
func newWeigher(src *sound.Source, s *stretch, opt Options) (*weigher, error) {
	z := opt.Pulses
	slow, fast := s.fit.Slowest()/(2*math.Pi), s.fit.Fastest()/(2*math.Pi)
	// where a rate changes, a room turns the phases, and long segments smear lines
	per := 48
	switch {
	case z > 6 && fast < slow*(1+oneRate):
		per = min(432, 12*z)
	case z > 6:
		per = min(144, 8*z)
	}
	if len(s.beside) > 0 && fast < slow*(1+oneRate) {
		per = max(per, min(432, int(tellApart*fast)))
	}
	from, to := s.times()
	w := &weigher{z: z, below: opt.belowRange(), slowest: opt.slowest() / fast, lo: float64(opt.Range.Lo) / fast, hi: float64(opt.Range.Hi) * 1.02 / fast}
	for p := per; p >= 12 && w.o == nil; p /= 2 {
		var err error
		w.o, err = comb.NewOrdersBeside(s.linesBeside(p), src, s.turn, from, to, p, min(lineHarmonics*z, 160))
		if err != nil {
			return nil, err
		}
	}
	if w.o == nil {
		return nil, nil
	}
	w.sure, w.maybe = lineTables()
	if len(s.beside) > 0 {
		w.sure, w.maybe = besideTables()
	}
	return w, nil
}

// linesBeside tells where the lines of what sounds beside a stretch lie in its order
// spectrum of per bins an order; nil if nothing does.
func (s *stretch) linesBeside(per int) comb.Strangers {
	if len(s.beside) == 0 {
		return nil
	}
	const bins = 1.5
	rate := func(t float64) float64 {
		hz, _, _ := s.at(t)
		return hz
	}
	return func(from, to float64, hide func(lo, hi float64)) {
		for _, b := range s.beside {
			b.Lines(rate, from, to, bins/float64(per), hide)
		}
	}
}

// unlikely is what a reading costs for its ratio and for lying below the range.
func (w *weigher) unlikely(r reading) float64 {
	if r.ratio() < w.lo {
		return r.rare(w.z) + w.below
	}
	return r.rare(w.z)
}

// tellApart is the length in seconds of segments in whose spectra lines of two rotors
// are told apart as well as they are by their phases.
const tellApart = 0.5

// oneRate is the change of a rate, as a share of it, up to which it is one rate.
const oneRate = 0.02

// readings weighs the small ratios to the rate that was followed, best first.
func (w *weigher) readings() []reading {
	seen := map[[2]int]bool{}
	w.alike = map[float64]float64{}
	var list []reading
	add := func(num, den int) {
		key := lowest(num, den)
		if seen[key] {
			return
		}
		seen[key] = true
		r := reading{num: key[0], den: key[1]}
		// the fastest part must lie in the range, and a line be heard apart and below half
		// of the sampling rate
		x := r.ratio()
		if x < w.slowest || x > w.hi {
			return
		}
		if e := w.o.Evidence(x/float64(w.z), w.z, w.sure, w.maybe[0]); !math.IsInf(e, -1) {
			w.alike[x] = e
			list = append(list, r)
		}
	}
	for num := 1; num <= 8; num++ {
		for den := 1; den <= 6; den++ {
			add(num, den)
		}
	}
	if w.z > 1 {
		for k := 1; k <= 6; k++ { // what was followed is one of the shaft's first lines
			add(w.z, k)
		}
		for k := 1; k <= 3; k++ {
			add(k, w.z)
		}
	}
	for i, r := range list {
		list[i].score = w.alone(r)
	}
	sortReadings(list)
	return list
}

func sortReadings(list []reading) {
	sort.SliceStable(list, func(i, j int) bool { return list[i].score > list[j].score })
}

// rare is what it costs a reading of a rotor with z pulses that odd ratios are
// rarer than simple ones; that of the pulses to the shaft is as simple as any.
func (r reading) rare(z int) float64 {
	if r.den == 0 {
		return 0
	}
	least := math.Inf(1)
	for _, k := range [...][2]int{{r.num, r.den}, lowest(r.num*z, r.den), lowest(r.num, r.den*z)} {
		least = math.Min(least, math.Log(float64(k[0]*k[1])))
	}
	return oddRatio * least
}

// alone is the score of a reading that explains all lines.
func (w *weigher) alone(r reading) float64 { return w.beside(0, r) }

// beside is the score of a reading beside a stack of another rate that explains
// what the reading does not, 0 for none.
//
// Where the blades are as unlike as can be all lines of the shaft are there, and
// only their strengths tell which are the pulses. Lines that do not come again with
// the period of a reading speak against it. Those that do would so with any multiple
// of their period, and speak against the pulses of a reading that has them.
func (w *weigher) beside(other float64, r reading) float64 {
	x := r.ratio()
	second := func(base float64) float64 {
		if other == 0 {
			return 0
		}
		v := w.o.SecondAt(base, other, w.sure) - secondRotor
		if !simple(other / x) {
			v -= anyRatio
		}
		return v
	}
	if w.z == 1 {
		return w.o.Evidence(x, 1, w.sure, w.sure) + second(x) - w.unlikely(r)
	}
	shaft := x / float64(w.z)
	none := w.o.Evidence(x, 1, w.sure, w.sure) + second(x) // no line between the pulses at all
	alike := w.o.EvidenceBeside(other, shaft, w.z, w.sure, w.maybe[0]) + second(x)
	// what the strengths say counts no more than that there are lines between, and those
	// no more than any pulses with none between leave to be explained by them
	with := func(base, pattern, all float64) float64 {
		plain := alike
		if other == 0 {
			plain = math.Max(plain, w.plain(base, x))
		}
		return all + math.Min(pattern, math.Max(0, math.Min(all-plain, mostPattern)))
	}
	pattern, left := w.pattern(shaft, w.z, true), second(shaft)
	best := math.Max(none, alike+math.Min(0, pattern))
	chosen := w.chosen(shaft, w.z)
	for i, l := range w.maybe[1:] {
		cost := unlike*float64(i+1)/float64(len(w.maybe)) + chosen
		best = math.Max(best, with(shaft, pattern, w.o.Evidence(shaft, w.z, w.sure, l)+left)-cost)
	}
	// with fewer different blades than there are, each counts more than once
	for d := 2; d <= w.z; d++ {
		if w.z%d != 0 {
			continue
		}
		base := x / float64(d)
		all := w.o.Evidence(base, d, w.sure, w.sure) + second(base)
		cost := unlike + w.chosen(base, d)
		if d < w.z {
			cost += likeSets
		}
		best = math.Max(best, with(base, w.pattern(base, d, false)+math.Min(0, w.o.Recurs(base, d)), all)-cost)
	}
	return best - w.unlikely(r) - math.Max(0, w.o.Recurs(x, w.z))
}

// chosen is what it costs that of the lines between those of the pulses, every z-th at
// multiples of base, only some stand out that make one stack with them: blades in sets of
// like ones are no commoner.
func (w *weigher) chosen(base float64, z int) float64 {
	return math.Min(likeSets, w.o.Chosen(base, z))
}

// plain returns the evidence of the likeliest pulses with hardly a line between, of the
// readings to be weighed, for which lines at multiples of base are all there is; of
// those of which the rate of pulse is a multiple less what the strengths of their lines
// say against them, as such pulses explain that the lines are there, but not that every
// so many-th rises above the others.
func (w *weigher) plain(base, pulse float64) float64 {
	best := math.Inf(-1)
	for x, v := range w.alike {
		if !wholeNumber(x/base) || x < 1.5*base {
			continue
		}
		if d := pulse / x; d > 1.5 && wholeNumber(d) {
			v -= math.Max(0, w.pattern(x, int(d+0.5), false))
		}
		best = math.Max(best, v)
	}
	return best
}

// wholeNumber reports whether x is one, but for rounding.
func wholeNumber(x float64) bool { return math.Abs(x-math.Round(x)) < 1e-6 }

// pattern returns what the strengths of the lines at multiples of base say for
// every d-th being the pulses': of those that are there, or, where they are too few
// and faint is set, of all.
func (w *weigher) pattern(base float64, d int, faint bool) float64 {
	nats, pulses := w.o.Unequal(base, d, true)
	if pulses > 1 {
		return nats
	}
	if faint {
		if nats, pulses = w.o.Unequal(base, d, false); pulses > 1 {
			return math.Min(nats, fewStand)
		}
	}
	return math.Min(nats, oneLoud)
}

const (
	// oddRatio is what ratios of larger numbers cost, mostPattern bounds what the
	// strengths of the lines can say.
	oddRatio, mostPattern = 1.2, 20.0
	// unlike is what it costs to believe in blades so unlike that all lines of the
	// shaft are heard as well as the pulses: a belief beforehand, not a measurement,
	// of one to two against blades so alike that no line shows between the pulses.
	unlike = math.Ln2
	// oneLoud bounds what one loud line says, which any stack may have, fewStand
	// what lines say of which few stand out: that the others are missing counts
	// already.
	oneLoud, fewStand = 1.0, 2.0
)

// lineTables returns the evidence of lines at multiples of the pulse rate, and
// of those between for blades that are more and more unequal; besideTables the
// same for a rotor beside which another sounds, whose unlike blades and whose
// changes of loudness leave lines that are nobody's.
var (
	lineTables   = sync.OnceValues(func() (*evidence.Line, []*evidence.Line) { return tables(2e-3) })
	besideTables = sync.OnceValues(func() (*evidence.Line, []*evidence.Line) { return tables(2e-2) })
)

// tables returns those for lines of strangers at such a share of all places.
func tables(stranger float64) (sure *evidence.Line, maybe []*evidence.Line) {
	for _, p := range []float64{0.03, 0.15, 0.5} {
		maybe = append(maybe, evidence.New(p, stranger))
	}
	return evidence.New(0.75, stranger), maybe
}

// lowest returns a/b in lowest terms.
func lowest(a, b int) [2]int {
	c, d := a, b
	for d != 0 {
		c, d = d, c%d
	}
	return [2]int{a / c, b / c}
}
