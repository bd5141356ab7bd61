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
	score    float64 // nats
}

func (r reading) ratio() float64 { return float64(r.num) / float64(r.den) }

// rightMultiple weighs, for every stretch, the readings of the same sound at
// small ratios to the one that was followed, and follows anew at the best one.
// Lines at multiples of the shaft speed that are not multiples of the pulse
// rate belong to the rotor as well: unequal blades and unbalance.
func rightMultiple(src *sound.Source, in []*stretch, opt Options) ([]*stretch, error) {
	lists := make([][]reading, len(in))
	spectra := make([]*comb.Orders, len(in))
	for i, s := range in {
		o, l, err := weighReadings(src, s, opt)
		if err != nil {
			return nil, err
		}
		spectra[i], lists[i] = o, l
	}
	agree(in, lists)
	var out []*stretch
	for i, s := range in {
		if len(lists[i]) == 0 {
			out = append(out, s)
			continue
		}
		best := lists[i][0]
		n := s
		if r := best.ratio(); r != 1 {
			var err error
			if n, err = refineCourse(src, s.course(r), 0, 0.002, opt); err != nil {
				return nil, err
			}
			if n == nil {
				continue
			}
			n.evidence = s.evidence
		}
		if z := float64(opt.Pulses); z > 1 && spectra[i].Between(best.ratio()/z, opt.Pulses) > unequalPower {
			n.cycles = 2 * z
		}
		for _, r := range lists[i][1:min(6, len(lists[i]))] {
			f := r.ratio() / best.ratio()
			n.alternatives = append(n.alternatives, Alternative{Factor: ratioText(f), Odds: math.Exp(math.Min(40, math.Max(0, best.score-r.score))), Tone: Hertz(f)})
		}
		n.balanced = len(n.alternatives) > 0 && n.alternatives[0].Odds < 3
		out = append(out, n)
	}
	out, err := joinStretches(src, out, opt)
	if err != nil {
		return nil, err
	}
	for i, s := range out {
		if s.cycles == 0 {
			continue
		}
		// the last word on unequal blades: in blocks of two whole turns
		n, err := refineCourse(src, s.course(1), s.cycles, 0.002, opt)
		if err != nil {
			return nil, err
		}
		if n != nil { // else too short for whole turns
			n.evidence, n.cycles, n.alternatives, n.balanced = s.evidence, s.cycles, s.alternatives, s.balanced
			out[i] = n
		}
	}
	return out, nil
}

// unequalPower is the power of the lines between those of the pulse rate, over
// the pulse rate's, from which on blocks of whole turns are used.
const unequalPower = 1e-3

// joinSeconds is the longest pause over which two stretches of one motion are
// followed as one.
const joinSeconds = 0.8

// joinStretches follows neighbouring stretches as one where the second goes on
// as the first ended: frames may have lost the rotor between, or read it as a
// multiple for a while.
func joinStretches(src *sound.Source, in []*stretch, opt Options) ([]*stretch, error) {
	for i := 0; i+1 < len(in); {
		a, b := in[i], in[i+1]
		_, end := a.times()
		start, _ := b.times()
		gap := start - end
		e, f := last(a.fit.Motion), b.fit.Motion[0]
		middle := gap / 2
		d := math.Log((e.Omega + e.Alpha*middle) / (f.Omega - f.Alpha*middle))
		if gap > joinSeconds || gap < -joinSeconds || !(math.Abs(d) < 0.03+0.05*math.Max(0, gap)) {
			i++
			continue
		}
		c := a.course(1)
		next := b.course(1)
		for k, t := range next.T {
			if t > c.T[len(c.T)-1]+1e-3 {
				c.T = append(c.T, t)
				c.Rate = append(c.Rate, next.Rate[k])
			}
		}
		n, err := refineCourse(src, c, 0, 0.002, opt)
		if err != nil {
			return nil, err
		}
		if n == nil {
			i++
			continue
		}
		n.evidence, n.cycles = a.evidence+b.evidence, math.Max(a.cycles, b.cycles)
		n.alternatives, n.balanced = a.alternatives, a.balanced
		if b.evidence > a.evidence {
			n.alternatives, n.balanced = b.alternatives, b.balanced
		}
		in = append(in[:i], append([]*stretch{n}, in[i+2:]...)...)
	}
	return in, nil
}

// agree lets a stretch that cannot decide follow its neighbours: among readings
// nearly as likely as the best, the one that joins on to the stretch with the
// most evidence is preferred.
func agree(in []*stretch, lists [][]reading) {
	lead := -1
	for i, s := range in {
		if len(lists[i]) > 0 && (lead < 0 || s.evidence > in[lead].evidence) {
			lead = i
		}
	}
	if lead < 0 {
		return
	}
	join := func(i, to int) {
		if len(lists[i]) == 0 || len(lists[to]) == 0 {
			return
		}
		var a, b float64
		if i < to {
			a, b = last(in[i].fit.Motion).Omega, in[to].fit.Motion[0].Omega
		} else {
			a, b = in[i].fit.Motion[0].Omega, last(in[to].fit.Motion).Omega
		}
		b *= lists[to][0].ratio()
		best := lists[i][0].score
		for k := range lists[i] {
			r := &lists[i][k]
			if best-r.score > 12 {
				continue
			}
			d := math.Abs(math.Log(a * r.ratio() / b))
			r.score += 12 * math.Exp(-d*d/(2*0.3*0.3))
		}
		sort.SliceStable(lists[i], func(x, y int) bool { return lists[i][x].score > lists[i][y].score })
	}
	for i := lead - 1; i >= 0; i-- {
		join(i, i+1)
	}
	for i := lead + 1; i < len(in); i++ {
		join(i, i-1)
	}
}

// weighReadings returns the order spectrum of one stretch and its readings,
// best first.
func weighReadings(src *sound.Source, s *stretch, opt Options) (*comb.Orders, []reading, error) {
	z := opt.Pulses
	per := 48
	if z > 6 {
		per = min(144, 8*z)
	}
	lo, hi := math.Inf(1), 0.0
	for _, m := range s.fit.Motion {
		lo = math.Min(lo, m.Omega/(2*math.Pi))
		hi = math.Max(hi, m.Omega/(2*math.Pi))
	}
	from, to := s.times()
	var o *comb.Orders
	for p := per; p >= 12 && o == nil; p /= 2 {
		var err error
		o, err = comb.NewOrders(src, s.turn, from, to, p, min(lineHarmonics*z, 160))
		if err != nil {
			return nil, nil, err
		}
	}
	if o == nil {
		return nil, nil, nil
	}
	sure, maybe := lineTables()
	seen := map[[2]int]bool{}
	var list []reading
	add := func(num, den int, bonus float64) {
		g := common(num, den)
		num, den = num/g, den/g
		if seen[[2]int{num, den}] {
			return
		}
		seen[[2]int{num, den}] = true
		r := float64(num) / float64(den)
		// the fastest part must lie in the range
		if hi*r > float64(opt.Range.Hi)*1.02 || hi*r < float64(opt.Range.Lo) {
			return
		}
		score := math.Inf(-1)
		if z == 1 {
			score = o.Evidence(r, 1, sure, sure)
		} else {
			// how unequal the blades are is not known
			for _, l := range maybe {
				score = math.Max(score, o.Evidence(r/float64(z), z, sure, l))
			}
		}
		// odd ratios are rarer than simple ones
		list = append(list, reading{num, den, score + bonus - 1.2*math.Log(float64(num*den))})
	}
	for num := 1; num <= 8; num++ {
		for den := 1; den <= 6; den++ {
			add(num, den, 0)
		}
	}
	if z > 1 {
		for k := 1; k <= 3; k++ {
			add(z, k, 0)
			add(k, z, 0)
		}
	}
	if len(list) == 0 {
		return o, nil, nil
	}
	best := func() { sort.SliceStable(list, func(i, j int) bool { return list[i].score > list[j].score }) }
	best()
	// Where every d-th line is stronger than those between, d a divisor of z,
	// the lines are those of unequal blades at multiples of the shaft speed and
	// the strong ones are the pulses.
	if z > 1 {
		w := list[0]
		if d := o.Pattern(w.ratio(), z); d > 1 {
			for i := range list {
				if list[i].num*w.den == d*w.num*list[i].den {
					list[i].score = w.score + 6
				}
			}
			if key := [2]int{d * w.num / common(d*w.num, w.den), w.den / common(d*w.num, w.den)}; !seen[key] {
				add(key[0], key[1], 0)
				if n := len(list) - 1; list[n].num == key[0] && list[n].den == key[1] {
					list[n].score = w.score + 6
				}
			}
			best()
		}
	}
	return o, twoRotors(o, list, z, sure), nil
}

// secondRotor is what it costs, in nats, to believe in a second rotor.
const secondRotor = 9

// twoRotors asks whether the best reading, first in list, is a rate that two
// rotors at a ratio of small whole numbers only share as a divisor. If two
// stacks explain the lines better than the one, the louder is the reading and
// the other the first alternative, as likely as it is loud.
func twoRotors(o *comb.Orders, list []reading, z int, line *evidence.Line) []reading {
	w := list[0]
	if o.Filled(w.ratio()) > 0.56 {
		return list // a stack with hardly a gap is one rotor's
	}
	best := w.score + secondRotor
	if z > 1 {
		best = math.Max(best, o.Evidence(w.ratio(), 1, line, line)+secondRotor)
	}
	var a, b int
	for i := 3; i <= 8; i++ {
		for j := i + 1; j <= 9; j++ {
			if common(i, j) > 1 {
				continue
			}
			if e := o.Pair(w.ratio()*float64(i), w.ratio()*float64(j), line); e > best {
				best, a, b = e, i, j
			}
		}
	}
	if a == 0 {
		return list
	}
	pa, pb := o.Power(w.ratio()*float64(a)), o.Power(w.ratio()*float64(b))
	if pb > pa {
		a, b, pa, pb = b, a, pb, pa
	}
	make := func(k int, score float64) reading {
		num, den := w.num*k, w.den
		g := common(num, den)
		return reading{num / g, den / g, score}
	}
	top := best + 20
	out := []reading{make(a, top), make(b, top-2*math.Log(pa/math.Max(pb, 1)))}
	for _, r := range list {
		if r.ratio() != out[0].ratio() && r.ratio() != out[1].ratio() {
			out = append(out, r)
		}
	}
	return out
}

// lineTables returns the evidence of lines at multiples of the pulse rate, and
// of those between for blades that are more and more unequal.
var lineTables = sync.OnceValues(func() (*evidence.Line, []*evidence.Line) {
	const stranger = 2e-3
	var maybe []*evidence.Line
	for _, p := range []float64{0.03, 0.15, 0.5} {
		maybe = append(maybe, evidence.New(p, stranger))
	}
	return evidence.New(0.75, stranger), maybe
})

// common returns the greatest common divisor.
func common(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}
