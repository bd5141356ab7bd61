package tacho

import (
	"cmp"
	"math"
	"slices"

	"rotorhum/tacho/internal/comb"
	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// Of two rotors that sound at the same time the lines of each disturb what is read of
// the other: they beat with its own, and pass for lines of its halves and thirds. Each
// is therefore followed, and its multiples are weighed, in what is left of the sound
// without the lines of the other, in turns. Lines that they share have no say.

// without returns what is left of a sound without the lines of stacks.
func without(src *sound.Source, stacks ...*phase.Stack) *sound.Source {
	return src.Without(func(x [][]float64, start int) {
		for _, s := range stacks {
			s.Subtract(x, start)
		}
	})
}

// in returns the sound in which a stretch is followed: src, without what else
// sounds there.
func (s *stretch) in(src *sound.Source) *sound.Source {
	if s.alone != nil {
		return s.alone
	}
	return src
}

// stackMemory is the time, in seconds, over which the amplitudes of lines are
// measured that are taken out of a sound.
const stackMemory = 0.2

// stackLines is the number of lines that are looked for: what was followed may be the shaft
// of pulses whose number is not known, and its lines reach far.
const stackLines = 160

// longestStack bounds the seconds of a stretch whose lines are taken out of a sound,
// as all its blocks are held for it.
const longestStack = 310

// stack measures the lines of a stretch in src, and those of its shaft, as far as
// they can be told apart. It returns nil for a stretch too brief or too long.
func (s *stretch) stack(src *sound.Source, pulses int, beside ...*phase.Stack) (*phase.Stack, error) {
	if from, to := s.times(); to-from > longestStack {
		return nil, nil
	}
	z := s.shaft(pulses)
	return phase.NewStack(src, s.course(1/float64(z), src.Seconds()), stackLines, z, stackMemory, beside)
}

// shaft returns the number of pulses for every line of the shaft's that is measured: those
// of a turn, if the lines of the shaft can be told apart in blocks short enough, or 1.
func (s *stretch) shaft(pulses int) int {
	const longest = 0.35 // seconds for the blocks
	if m := s.fit.Motion; pulses > 1 && float64(4*pulses)*2*math.Pi/m[len(m)/2].Omega < longest {
		return pulses
	}
	return 1
}

// apartFrom follows a stretch anew in what is left of src without the lines of
// another, and weighs its readings there until the best is the one followed. It
// returns nil where nothing is left to follow.
func (s *stretch) apartFrom(other *phase.Stack, src *sound.Source, rough float64, opt Options) (*stretch, *comb.Orders, []reading, error) {
	alone, beside := without(src, other), []*phase.Stack{other}
	opt.Progress, opt.passed = nil, s.passed
	ratio, n := 1.0, s
	var before parted
	for again := 0; ; again++ {
		m, err := refineBeside(alone, n.course(ratio, src.Seconds()), 0, rough, beside, opt)
		if err != nil || m == nil {
			return nil, nil, nil, err
		}
		m.as(s)
		m.alone, m.beside = alone, beside
		n = m
		o, l, err := weighAlone(alone, n, opt)
		if err != nil || len(l) == 0 {
			return nil, nil, nil, err
		}
		if again > 0 && math.Abs(l[0].ratio()*ratio-1) < 1e-6 {
			// each of the two is likelier where the other is followed
			if asFollowed(l) > asFollowed(before.list) {
				n, o, l = before.stretch, before.orders, before.list
			}
			return n, o, onPar(l), nil
		}
		if ratio = l[0].ratio(); ratio == 1 || again == 2 {
			return n, o, l, nil
		}
		before = parted{n, o, l, nil}
	}
}

// asFollowed returns by how much the best of readings is likelier than the one that was
// followed, in nats.
func asFollowed(l []reading) float64 {
	for _, r := range l {
		if r.ratio() == 1 {
			return l[0].score - r.score
		}
	}
	return math.Inf(1)
}

// onPar puts the reading that was followed first, as likely as the best.
func onPar(l []reading) []reading {
	out := slices.Clone(l)
	i := slices.IndexFunc(out, func(r reading) bool { return r.ratio() == 1 })
	if i < 0 {
		return out
	}
	r := out[i]
	r.score = out[0].score
	copy(out[1:i+1], out[:i])
	out[0] = r
	return out
}

// parted is one of two rotors that sound at the same time, followed in what the
// other leaves.
type parted struct {
	*stretch
	orders *comb.Orders
	list   []reading
	lines  *phase.Stack
}

// separate follows two stretches that sound at the same time, in turns, each in what
// the other leaves of src. It returns nil where that leaves less than two: each must be
// there by more than it costs to believe in a second rotor.
func separate(src *sound.Source, a, b *stretch, opt Options) (first, second *parted, err error) {
	opt.Range = DefaultRange // the other may lie outside
	first, second = &parted{stretch: a}, &parted{stretch: b}
	if first.lines, err = a.stack(src, opt.Pulses); err != nil || first.lines == nil {
		return nil, nil, err
	}
	for round := 0; ; round++ {
		x, y := first.middle(), second.middle()
		rough := 0.002
		if round == 0 {
			rough = 0.006 // the other is known to a bin of an order spectrum
		}
		for _, p := range [...][2]*parted{{second, first}, {first, second}} {
			n, o, l, err := p[0].apartFrom(p[1].lines, src, rough, opt)
			if err != nil || n == nil {
				return nil, nil, err
			}
			lines, err := n.stack(n.alone, opt.Pulses, n.beside...)
			if err != nil || lines == nil {
				return nil, nil, err
			}
			*p[0] = parted{n, o, l, lines}
		}
		if round > 0 && same(x, first.middle()) && same(y, second.middle()) || round == 3 {
			break
		}
	}
	from, to := first.common(second.stretch)
	r := first.ratioTo(second.stretch, (from+to)/2)
	cost := secondRotor
	if !simple(r) && math.Min(first.fit.Coherence, second.fit.Coherence) < keepsAlone {
		cost += anyRatio // what keeps its phases is no chance choice of lines
	}
	x, y := first.list[0].ratio(), second.list[0].ratio()
	if first.inLine(second.stretch, 1) || first.inLine(second.stretch, x/y) || first.list[0].score < cost || second.list[0].score < cost {
		return nil, nil, nil
	}
	return first, second, nil
}

// middle returns the rate in the middle of a stretch, in hertz.
func (s *stretch) middle() float64 {
	from, to := s.times()
	hz, _, _ := s.at((from + to) / 2)
	return hz
}

// ratioTo returns the ratio of the rate of s to that of o at time t.
func (s *stretch) ratioTo(o *stretch, t float64) float64 {
	x, _, _ := s.at(t)
	y, _, _ := o.at(t)
	return x / y
}

// same reports whether two rates are one, whole whether a ratio is so nearly a whole
// number that the lines of the faster may be the slower's own, not followed quite right.
func same(x, y float64) bool { return math.Abs(x/y-1) < 1e-3 }
func whole(ratio float64) bool {
	return ratio > 1-ofWhole && math.Abs(ratio/math.Round(ratio)-1) < ofWhole
}

// ofWhole is how far from a whole number that is, relative, and oneLine how near to each
// other, in hertz, two lines may be one that is not followed quite right: others turn
// against each other within the least time for which what sounds beside is followed. So
// do those that come to slipped turns in all: who follows a line may slip by one.
const ofWhole, oneLine, slipped = 0.01, 1.0, 3.0

// inLine reports whether the rate of s, times a ratio, or that of o runs along a line of
// the other for most of the time that they have in common.
func (s *stretch) inLine(o *stretch, ratio float64) bool {
	const looks = 40
	from, to := s.common(o)
	near, turns := 0, 0.0
	for i := range looks {
		t := from + (to-from)*(float64(i)+0.5)/looks
		x, _, _ := s.at(t)
		y, _, _ := o.at(t)
		x *= ratio
		slow, r := math.Min(x, y), math.Max(x/y, y/x)
		if d := r - math.Round(r); math.Abs(d) < ofWhole*r && math.Abs(d)*slow < oneLine {
			near++
			turns += d * slow * (to - from) / looks
		}
	}
	return 2*near > looks && math.Abs(turns) < slipped
}

// inRange reports whether the fastest part of a stretch lies in the range.
func (s *stretch) inRange(opt Options) bool {
	hi := s.fit.Fastest() / (2 * math.Pi)
	return hi >= float64(opt.Range.Lo) && hi <= 1.02*float64(opt.Range.Hi)
}

// company returns what else sounds along a stretch: a stretch with a motion of its
// own, or, if its readings say that two rotors sound, the other one; nil for none.
func (s *stretch) company(src *sound.Source, list []reading, opt Options) (*stretch, error) {
	if len(s.softer) > 0 {
		return slices.MaxFunc(s.softer, func(a, b *stretch) int {
			from, to := s.common(a)
			start, end := s.common(b)
			return cmp.Compare(to-from, end-start)
		}), nil
	}
	for _, r := range list[:min(2, len(list))] {
		if r.den == 0 {
			if r == list[0] {
				r = list[1]
			}
			other := *s
			other.passed = false // it is what passes the lines of the other
			return other.again(src, r.ratio(), 0, opt)
		}
	}
	return nil, nil
}

// standsBeside reports whether a stretch can be a rotor's, by its odds and those of what
// sounds beside it, in nats, each followed without the other: what will be refused is not
// the one that is meant.
func (s *stretch) standsBeside(o *stretch, odds, other float64) bool {
	return odds >= -goingOn && s.keepsBeside(o, odds, other) && !o.beatsVoice(s, other, odds)
}

// keepsBeside reports whether a stretch that was followed without what sounds beside it
// keeps its power in phase, or is a rotor's by all else that is known of it, and the other
// keeps its power or is a voice. Where neither keeps it, as of two whistles that flutter in
// strength, each must be one beyond doubt for all the caution that a claim takes.
func (s *stretch) keepsBeside(o *stretch, odds, other float64) bool {
	switch {
	case s.fit.Coherence >= keepsAlone:
		return true
	case o.fit.Coherence >= keepsAlone:
		return odds >= beyondDoubt
	}
	return s.beatsVoice(o, odds, other) || math.Min(odds, other) >= beyondDoubt+caution
}

// beatsVoice reports whether a stretch is a rotor's beyond doubt, or holds its rate as
// hardly any voice does (of 48 stretches that did for a second and more beside voices 46
// were of rotors: measured), and what sounds beside it is a voice, by their odds in nats:
// that was followed all along the stretch, so that its length says nothing, but how much
// less of a rotor it is. One that keeps its power in phase about as well as the stretch is
// restless for the lines that cross its own: what crosses takes from both.
func (s *stretch) beatsVoice(voice *stretch, odds, other float64) bool {
	const about = 2
	least := beyondDoubt
	if s.holdsRate() {
		least = 0
	}
	keeps := voice.fit.Coherence >= keepsAlone && 1-voice.fit.Coherence < about*(1-s.fit.Coherence)
	return odds >= least && other < odds-surelyLess && voice.agility() > restless && !keeps
}

// surelyLess is by how many nats less one of two that sound at the same time is a rotor's
// for it to be none.
const surelyLess = 2 * beyondDoubt

// bothOdds are the odds of two stretches, each without the other, in nats.
func bothOdds(src *sound.Source, a, b *stretch) (x, y float64, err error) {
	if x, err = a.odds(a.in(src), [2]float64{}); err == nil {
		y, err = b.odds(b.in(src), [2]float64{})
	}
	return x, y, err
}

// together separates two stretches and returns the one that is meant: that in the
// range, or the one that is a rotor where the other is a voice, or the louder. The
// other comes second among the readings. It returns nil where they are not two.
func together(src *sound.Source, a, b *stretch, opt Options) (*stretch, *comb.Orders, []reading, error) {
	first, second, err := separate(src, a, b, opt)
	if err != nil || first == nil {
		return nil, nil, nil, err
	}
	from, to := first.common(second.stretch)
	x, y, err := powers(first, second, from, to, opt.Pulses)
	if err != nil {
		return nil, nil, nil, err
	}
	odds, other, err := bothOdds(src, first.stretch, second.stretch)
	if err != nil {
		return nil, nil, nil, err
	}
	p, q := first.inRange(opt), second.inRange(opt)
	if p == q {
		p, q = first.standsBeside(second.stretch, odds, other), second.standsBeside(first.stretch, other, odds)
	}
	if q && !p || p == q && y > x {
		first, second, x, y, odds, other = second, first, y, x, other, odds
	}
	first.evidence, first.rotor, first.found = a.evidence, a.rotor, a.found
	var list []reading
	hi := first.fit.Fastest() / (2 * math.Pi)
	for _, r := range first.list {
		if f := hi * r.ratio(); f >= float64(opt.Range.Lo) && f <= 1.02*float64(opt.Range.Hi) {
			list = append(list, r)
		}
	}
	if len(list) == 0 {
		return nil, nil, nil, nil
	}
	softer := reading{rate: 1 / first.ratioTo(second.stretch, (from+to)/2), score: list[0].score - 2*math.Log(math.Max(1, x/y))}
	if first.beatsVoice(second.stretch, odds, other) {
		softer.score += other - odds
	}
	first.softer, first.others, first.partner = nil, nil, second.stretch
	return first.stretch, first.orders, append([]reading{list[0], softer}, list[1:]...), nil
}
