package tacho

import (
	"cmp"
	"math"
	"slices"

	"rotorhum/tacho/internal/comb"
	"rotorhum/tacho/internal/sound"
)

// rightMultiple weighs, for every stretch, the readings of the same sound at
// small ratios to the one that was followed, and follows anew at the best one.
// Lines at multiples of the shaft speed that are not multiples of the pulse
// rate belong to the rotor as well: unequal blades and unbalance.
func rightMultiple(src *sound.Source, in []*stretch, opt Options) ([]*stretch, error) {
	lists := make([][]reading, len(in))
	spectra := make([]*comb.Orders, len(in))
	for i := range in {
		var err error
		if in[i], spectra[i], lists[i], err = weighed(src, in[i], opt); err != nil {
			return nil, err
		}
	}
	agree(in, lists)
	opt.see.told(&readingsWeighed{in, spectra, lists})
	var out []*stretch
	for i, s := range in {
		best := reading{num: 1, den: 1}
		if len(lists[i]) > 0 {
			best = lists[i][0]
		}
		if s.fit.Fastest()/(2*math.Pi)*best.ratio() < float64(opt.Range.Lo) {
			continue // it turns below the range all the time
		}
		if len(lists[i]) == 0 {
			out = append(out, s)
			continue
		}
		if i > 0 && len(lists[i-1]) > 0 && slowedOut(in[i-1], s, lists[i-1][0].ratio(), best.ratio(), opt.slowest()) {
			continue
		}
		n := s
		if r := best.ratio(); r != 1 {
			var err error
			if n, err = s.again(src, r, 0, opt); err != nil {
				return nil, err
			}
			if n == nil { // too few turns of it to be followed
				n, best = s, reading{num: 1, den: 1}
			}
		}
		if z := float64(opt.Pulses); z > 1 && (spectra[i].Between(best.ratio()/z, opt.Pulses) > unequalPower || n.fit.Recurs(opt.Pulses)) {
			n.unequal = true
		}
		for _, r := range lists[i][1:min(6, len(lists[i]))] {
			f := r.ratio() / best.ratio()
			n.alternatives = append(n.alternatives, Alternative{Factor: ratioText(f), Odds: math.Exp(math.Min(40, math.Max(0, best.score-r.score))), Tone: Hertz(f)})
		}
		n.alternatives = append(n.alternatives, n.others...)
		slices.SortStableFunc(n.alternatives, func(a, b Alternative) int { return cmp.Compare(a.Odds, b.Odds) })
		n.balanced = len(n.alternatives) > 0 && n.alternatives[0].Odds < 3
		out = append(out, n)
	}
	out, err := joinStretches(src, out, opt)
	if err != nil {
		return nil, err
	}
	for i, s := range out {
		if !s.unequal {
			continue
		}
		// the last word on unequal blades: what comes again with every turn is taken
		// for theirs
		n, err := s.again(src, 1, opt.Pulses, opt)
		if err != nil {
			return nil, err
		}
		if n != nil {
			n.unequal, n.alternatives, n.balanced = s.unequal, s.alternatives, s.balanced
			out[i] = n
		}
	}
	return out, nil
}

// weighed weighs the readings of one stretch, and returns it as it is then
// followed: at another rate, if what was followed is no simple part of what sounds
// there, and without what sounds beside it.
func weighed(src *sound.Source, s *stretch, opt Options) (*stretch, *comb.Orders, []reading, error) {
	for again := 0; ; again++ {
		o, l, err := weighReadings(src, s, opt)
		if err != nil || len(l) == 0 {
			return s, o, l, err
		}
		if other, err := s.company(src, l, opt); err != nil {
			return nil, nil, nil, err
		} else if other != nil {
			own := s
			if r := l[0].ratio(); r != 1 && len(s.softer) == 0 {
				if own, err = s.again(src, r, 0, opt); err != nil {
					return nil, nil, nil, err
				}
			}
			if own != nil {
				n, o, l, err := together(src, own, other, opt)
				if err != nil || n != nil {
					return n, o, l, err
				}
			}
		}
		if l[0].den != 0 || again == 2 {
			return s, o, l, nil
		}
		// at no simple ratio to what was followed: then that was something
		// else, and the readings are those of what sounds there
		n, err := s.again(src, l[0].rate, 0, opt)
		if err != nil || n == nil {
			return s, o, l, err
		}
		s = n
	}
}

// A rotor whose rate was below atLowest times the slowest that is looked for when it
// was last heard has slowed down below it; what is then found within ofMultiple
// (relative) of a multiple of that rate are its lines.
const atLowest, ofMultiple = 1.15, 0.12

// slowedOut reports whether stretch b, read at the given ratio, is what is left of
// stretch a that slowed down below the slowest rate that is looked for: its multiples
// lie above.
func slowedOut(a, b *stretch, ratioA, ratioB, slowest float64) bool {
	_, end := a.times()
	start, _ := b.times()
	e := last(a.fit.Motion)
	rate := e.Omega / (2 * math.Pi) * ratioA
	if start-end > joinSeconds || rate > atLowest*slowest {
		return false
	}
	r := b.fit.Motion[0].Omega / (2 * math.Pi) * ratioB / rate
	for _, k := range [...]float64{1.5, 2, 3, 4} {
		if math.Abs(r/k-1) < ofMultiple {
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
// the pulse rate's, from which on their pattern is taken out.
const unequalPower = 1e-4

// joinSeconds is the longest pause over which two stretches of one motion are
// followed as one.
const joinSeconds = 0.8

// continues reports whether a stretch goes on as the one before it ended.
func continues(a, b *stretch) bool {
	_, end := a.times()
	start, _ := b.times()
	gap := start - end
	e, f := last(a.fit.Motion), b.fit.Motion[0]
	d := math.Log((e.Omega + e.Alpha*gap/2) / (f.Omega - f.Alpha*gap/2))
	return gap <= joinSeconds && gap >= -joinSeconds && math.Abs(d) < 0.03+0.05*math.Max(0, gap)
}

// joinStretches follows neighbouring stretches as one where the second goes on
// as the first ended: frames may have lost the rotor between, or read it as a
// multiple for a while.
func joinStretches(src *sound.Source, in []*stretch, opt Options) ([]*stretch, error) {
	for i := 0; i+1 < len(in); {
		a, b := in[i], in[i+1]
		if !continues(a, b) {
			i++
			continue
		}
		c := a.course(1, src.Seconds())
		next := b.course(1, src.Seconds())
		for k, t := range next.T {
			if t > c.T[len(c.T)-1]+1e-3 {
				c.Add(t, next.Rate[k], next.Bend[k])
			}
		}
		left, beside := a.in(src), a.beside
		if len(b.beside) > 0 {
			beside = append(slices.Clone(a.beside), b.beside...)
			left = without(src, beside...)
		}
		opt.passed = a.passed || b.passed
		n, err := refineBeside(left, c, 0, 0.002, beside, opt)
		if err != nil {
			return nil, err
		}
		if n == nil {
			i++
			continue
		}
		if len(beside) > 0 {
			n.alone, n.beside, n.partner = left, beside, cmp.Or(a.partner, b.partner)
		}
		n.evidence, n.unequal, n.amid = a.evidence+b.evidence, a.unequal || b.unequal, a.amid || b.amid
		n.amidNotes, n.still = max(a.amidNotes, b.amidNotes), min(a.still, b.still)
		n.others = append(slices.Clone(a.others), b.others...)
		n.alternatives, n.balanced = a.alternatives, a.balanced
		if b.evidence > a.evidence {
			n.alternatives, n.balanced = b.alternatives, b.balanced
		}
		in = append(in[:i], append([]*stretch{n}, in[i+2:]...)...)
	}
	return in, nil
}
