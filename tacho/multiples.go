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
	opt.see.told(&readingsWeighed{in, spectra, lists})
	var out []*stretch
	for i, s := range in {
		if len(lists[i]) == 0 {
			out = append(out, s)
			continue
		}
		if i > 0 && len(lists[i-1]) > 0 && slowedOut(in[i-1], s, lists[i-1][0].ratio(), lists[i][0].ratio(), float64(opt.Range.Lo)) {
			continue
		}
		best := lists[i][0]
		n := s
		if r := best.ratio(); r != 1 {
			var err error
			if n, err = refineCourse(src, s.course(r, src.Seconds()), 0, 0.002, opt); err != nil {
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
		// the last word on unequal blades: what comes again with every turn is taken
		// for theirs
		n, err := refineTurns(src, s.course(1, src.Seconds()), 0, opt.Pulses, 0.002, opt)
		if err != nil {
			return nil, err
		}
		if n != nil {
			n.evidence, n.cycles, n.alternatives, n.balanced = s.evidence, s.cycles, s.alternatives, s.balanced
			out[i] = n
		}
	}
	return out, nil
}

// slowedOut reports whether stretch b, read at the given ratio, is what is left of
// stretch a that slowed down out of the range: its multiples stay within.
func slowedOut(a, b *stretch, ratioA, ratioB, lo float64) bool {
	_, end := a.times()
	start, _ := b.times()
	e := last(a.fit.Motion)
	rate := e.Omega / (2 * math.Pi) * ratioA
	if start-end > joinSeconds || rate > 1.15*lo {
		return false
	}
	r := b.fit.Motion[0].Omega / (2 * math.Pi) * ratioB / rate
	for _, k := range [...]float64{1.5, 2, 3, 4} {
		if math.Abs(r/k-1) < 0.12 {
			return true
		}
	}
	return false
}

// readingsWeighed is what is told to an observer: for every stretch, its order
// spectrum, nil if it is too short, and the readings weighed, the best first.
type readingsWeighed struct {
	stretches []*stretch
	spectra   []*comb.Orders
	lists     [][]reading
}

// unequalPower is the power of the lines between those of the pulse rate, over
// the pulse rate's, from which on blocks of whole turns are used.
const unequalPower = 1e-4

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
		c := a.course(1, src.Seconds())
		next := b.course(1, src.Seconds())
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
		// the longer the pause, the less the one says of the other
		from, end := in[i].times()
		start, stop := in[to].times()
		most := 12 / (1 + math.Max(0, math.Max(start-end, from-stop))/joinSeconds)
		for k := range lists[i] {
			r := &lists[i][k]
			if best-r.score > most {
				continue
			}
			d := math.Abs(math.Log(a * r.ratio() / b))
			r.score += most * math.Exp(-d*d/(2*0.3*0.3))
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
		key := lowest(num, den)
		if seen[key] {
			return
		}
		seen[key] = true
		num, den = key[0], key[1]
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
		list = append(list, reading{num: num, den: den, score: score + bonus - 1.2*math.Log(float64(num*den))})
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
		if d, nats := o.Pattern(w.ratio(), z); d > 1 {
			score := w.score + math.Min(nats, 12) - unequalBlades
			if d < z {
				score -= unequalBlades
			}
			if key := lowest(d*w.num, w.den); seen[key] {
				for i := range list {
					if list[i].num == key[0] && list[i].den == key[1] {
						list[i].score = score
					}
				}
			} else {
				add(key[0], key[1], 0)
				if n := len(list) - 1; list[n].num == key[0] && list[n].den == key[1] {
					list[n].score = score
				}
			}
			best()
		}
	}
	return o, twoRotors(o, list, float64(opt.Range.Lo)/lo, float64(opt.Range.Hi)/hi, sure), nil
}

const (
	// secondRotor is what it costs to believe in a second rotor, and anyRatio
	// what it costs more where the ratio of the rates is no simple one, but the
	// best of thousands.
	secondRotor, anyRatio = 9, 9
	// pairWith is the number of readings that are tried beside a second rotor.
	pairWith = 6
)

// twoRotors asks whether two stacks explain the lines better than any one, as
// two rotors do, whatever the ratio of their rates: then the louder is the
// reading and the other the first alternative, as likely as it is loud.
func twoRotors(o *comb.Orders, list []reading, lo, hi float64, line *evidence.Line) []reading {
	best, a, b := list[0].score, -1, 0.0
	for i, r := range list[:min(pairWith, len(list))] {
		rate, nats := o.Second(r.ratio(), lo, hi, line)
		v := o.Evidence(r.ratio(), 1, line, line) + nats - secondRotor
		if !simple(rate / r.ratio()) {
			v -= anyRatio
		}
		if nats > 0 && v > best {
			best, a, b = v, i, rate
		}
	}
	if a < 0 {
		return list
	}
	first, second := list[a], reading{rate: b}
	pa, pb := o.Power(first.ratio(), b), o.Power(b, first.ratio())
	if pb > pa {
		first, second, pa, pb = second, first, pb, pa
	}
	first.score = best + 20
	second.score = first.score - 2*math.Log(pa/math.Max(pb, 1e-30))
	out := []reading{first, second}
	for i, r := range list {
		if i != a {
			out = append(out, r)
		}
	}
	return out
}

// simple reports whether r is within one per cent of a ratio of whole numbers
// below ten.
func simple(r float64) bool {
	for q := 1.0; q < 10; q++ {
		if p := math.Round(r * q); p >= 1 && p < 10 && math.Abs(r*q/p-1) < 0.01 {
			return true
		}
	}
	return false
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

// lowest returns a/b in lowest terms.
func lowest(a, b int) [2]int {
	c, d := a, b
	for d != 0 {
		c, d = d, c%d
	}
	return [2]int{a / c, b / c}
}
