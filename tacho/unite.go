package tacho

import (
	"math"
	"slices"
	"sort"

	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// united makes one of stretches that overlap and are the same motion there, as
// frames may lose a rotor for a while. What has the most evidence comes first.
func (f *finder) united(in []*stretch, opt Options) ([]*stretch, error) {
	opt.Progress = nil
	for i := 0; i < len(in); i++ {
		for j := i + 1; j < len(in); {
			if in[i].slipsFrom(in[j], opt.Pulses) {
				a, b := in[i], in[j]
				in[i], in[j] = f.unslipped(a, b), f.unslipped(b, a)
			}
			ratio := in[i].movesWith(in[j], opt.Pulses)
			if ratio == 0 {
				j++
				continue
			}
			pair := [2]*stretch{in[i], in[j]}
			n, ok := f.whole[pair]
			if !ok {
				can, err := f.readTogether(in[i], in[j], ratio, opt)
				if err != nil {
					return nil, err
				}
				if !can {
					a, b := in[i], in[j]
					in[i], in[j] = f.unslipped(a, b), f.unslipped(b, a)
				} else if n, err = in[i].united(in[j], ratio, f.src, opt); err != nil {
					return nil, err
				}
				f.whole[pair] = n
			}
			if n == nil {
				j++
				continue
			}
			in[i] = n
			in = append(in[:j], in[j+1:]...)
			j = i + 1 // the longer one may run along with others, too
		}
	}
	sort.SliceStable(in, func(i, j int) bool { return in[i].evidence > in[j].evidence })
	return in, nil
}

// surelyNot is by how many nats the lines of a stretch must speak against a reading of
// it for it to be none.
const surelyNot = 10.0

// readTogether reports whether two stretches, the rate of the one ratio times that of the
// other, can be pulses and a line of the shaft by the lines that they have: what goes on
// beyond the end of a stretch may have slipped to another line there.
func (f *finder) readTogether(a, b *stretch, ratio float64, opt Options) (bool, error) {
	if ratio == 1 {
		return true, nil
	}
	if can, err := f.readAs(b, ratio, opt); can || err != nil {
		return can, err
	}
	return f.readAs(a, 1/ratio, opt)
}

// readAs reports whether a stretch may have a pulse rate of ratio times its rate.
func (f *finder) readAs(s *stretch, ratio float64, opt Options) (bool, error) {
	_, list, err := weighAlone(f.src, s, opt)
	for _, r := range list {
		if math.Abs(r.ratio()/ratio-1) < 1e-6 {
			return r.score > list[0].score-surelyNot, err
		}
	}
	return len(list) == 0, err // too brief to tell
}

// unslipped returns a stretch as the frames showed it, if only what was added to that is
// heard together with another, and from now on in place of it. One that was made of
// several stays as it is.
func (f *finder) unslipped(s, o *stretch) *stretch {
	if s.found == nil || s.found == s || len(s.courses) != 1 {
		return s
	}
	if from, to := s.found.common(o.found); to > from {
		return s
	}
	n := *s.found
	n.courses, n.evidence, n.found = s.courses, s.evidence, s.found
	for key, known := range f.known {
		if known == s {
			f.known[key] = &n
		}
	}
	return &n
}

const (
	// shaftLines is how many of the first lines of the shaft are compared with the
	// pulses.
	shaftLines = 3
	// alongSeconds is for how long two stretches must overlap for their motions to
	// be compared, alongShare for what share of that they must be the same, to within
	// sameRate (relative) beyond what they are known to.
	alongSeconds, alongShare, sameRate = 0.1, 0.8, 0.005
)

// common returns the time for which both stretches are heard, to before from if
// there is none.
func (s *stretch) common(o *stretch) (from, to float64) {
	a, b := s.times()
	c, d := o.times()
	return math.Max(a, c), math.Min(b, d)
}

// slipsFrom reports whether two stretches are not the same motion, at one ratio, where
// the one was found by the frames and where the other was: then what was added to one of
// them is something else.
func (s *stretch) slipsFrom(o *stretch, pulses int) bool {
	from, to := o.common(s.found)
	start, end := s.common(o.found)
	if math.Min(to-from, end-start) < alongSeconds {
		return false
	}
	ratios := ofShaft(pulses)
	return s.movesWithin(o, from, to, ratios) != s.movesWithin(o, start, end, ratios)
}

// movesWith returns the ratio of the rate of one stretch to that of another if they
// overlap and are the same motion there, 0 if not: 1, or that of the pulses, so many
// a turn, to one of the first lines of the shaft.
func (s *stretch) movesWith(o *stretch, pulses int) float64 {
	from, to := s.common(o)
	return s.movesWithin(o, from, to, ofShaft(pulses))
}

// ofShaft returns the ratios of the rates of pulses and of the first lines of the shaft, 1
// first.
func ofShaft(pulses int) []float64 {
	ratios := []float64{1}
	for k := 1; k <= shaftLines && k < pulses; k++ {
		r := float64(pulses) / float64(k)
		ratios = append(ratios, r, 1/r)
	}
	return ratios
}

// multiples returns ofShaft, and the ratios at which frames read the same lines for a
// while. Notes have these as well: they make one of stretches only that are rotors each.
func multiples(pulses int) []float64 {
	return append(ofShaft(pulses), 2, 1.0/2, 3, 1.0/3)
}

// goOn makes one of stretches of rotors that go on from one to the next, at other
// multiples; what has the most evidence comes first.
func (f *finder) goOn(in []*stretch, opt Options) ([]*stretch, error) {
	sort.SliceStable(in, func(i, j int) bool { return in[i].evidence > in[j].evidence })
	for i := 0; i < len(in); i++ {
		for j := i + 1; j < len(in); j++ {
			n, err := f.onward(in[i], in[j], opt)
			if err != nil {
				return nil, err
			}
			if n != nil {
				in[i] = n
				in = slices.Delete(in, j, j+1)
				j = i // the longer one may go on further
			}
		}
	}
	return in, nil
}

// onward returns two stretches as one, where they are the same motion, at one ratio, for
// the time that they have in common, and the one goes on where the other ends: frames may
// have read a multiple for a while, beyond which each of them was followed. It returns nil
// otherwise.
func (f *finder) onward(s, o *stretch, opt Options) (*stretch, error) {
	from, to := s.common(o)
	a, b := s.times()
	c, d := o.times()
	before, behind := c-a, b-d // of s beyond o
	if before*behind > 0 || math.Min(math.Abs(before), math.Abs(behind)) < leastSeconds {
		return nil, nil
	}
	ratio := s.movesWithin(o, from, to, multiples(opt.Pulses))
	if ratio == 0 {
		return nil, nil
	}
	if can, err := f.readTogether(s, o, ratio, opt); err != nil || !can {
		return nil, err
	}
	opt.Progress = nil
	n, err := s.united(o, ratio, f.src, opt)
	if n != nil {
		n.judged, n.nats, n.rotor = true, math.Max(s.nats, o.nats), math.Max(s.rotor, o.rotor)
		n.piece, n.amid, n.amidNotes = s.piece || o.piece, s.amid || o.amid, max(s.amidNotes, o.amidNotes)
	}
	return n, err
}

// movesWithin returns which of the ratios the rate of one stretch has to that of another
// between two moments, 0 for none.
func (s *stretch) movesWithin(o *stretch, from, to float64, ratios []float64) float64 {
	if to-from < alongSeconds {
		return 0
	}
	for _, r := range ratios {
		same := func(ratio, u float64) bool { return math.Abs(ratio/r-1) < sameRate+2*u }
		if s.alike(o, from, to, same) >= alongShare {
			return r
		}
	}
	return 0
}

// alike returns the share of the time between from and to in which the ratio of the
// rates of two stretches, with its relative standard uncertainty, is as asked, of
// that in which it is known to sameRate.
func (s *stretch) alike(o *stretch, from, to float64, asked func(ratio, u float64) bool) float64 {
	yes, all := 0.0, 0.0
	for t := from; t <= to; t += frameHop {
		x, u, _ := s.at(t)
		y, v, _ := o.at(t)
		if u = math.Hypot(u/x, v/y); u > sameRate {
			continue
		}
		if asked(x/y, u) {
			yes++
		}
		all++
	}
	return yes / math.Max(1, all)
}

// united returns the two stretches as one, nil if they cannot be followed so. Where
// the rate of the first is ratio times that of the other, it is that of the faster; a
// stretch that lasts as long as both stays as it is.
func (s *stretch) united(o *stretch, ratio float64, src *sound.Source, opt Options) (*stretch, error) {
	a, b := s, o
	byA, byB := math.Max(1, 1/ratio), math.Max(1, ratio)
	from, end := a.times()
	start, to := b.times()
	if start < from {
		a, b = b, a
		byA, byB = byB, byA
		from, end, start, to = start, to, from, end
	}
	n := *a
	if to > end {
		// from one to the other amid what they share
		middle := (start + end) / 2
		c, d := a.course(byA, src.Seconds()), b.course(byB, src.Seconds())
		var both phase.Course
		for k, t := range c.T {
			if t < middle {
				both.Add(t, c.Rate[k], c.Bend[k])
			}
		}
		for k, t := range d.T {
			if t >= middle {
				both.Add(t, d.Rate[k], d.Bend[k])
			}
		}
		opt.passed = a.passed || b.passed
		r, err := refineCourse(src, both, 0.002, opt)
		if err != nil || r == nil {
			return nil, err
		}
		n = *r
		n.found, n.ends = a.found, [2]float64{a.ends[0], b.ends[1]}
	}
	n.courses, n.evidence = slices.Concat(a.courses, b.courses), a.evidence+b.evidence
	return &n, nil
}

const (
	// handover is the time, in seconds, between the end of one stretch and the
	// beginning of another up to which the one may lead on to the other.
	handover = 0.15
	// steep is the change of rate, in shares per second, from which on a stretch is
	// pushed or braked there.
	steep = 0.3
)

// leadsOn reports whether another stretch goes on where this one ends (1), or ends
// where it begins (0), at a simple ratio of their rates, and one of both is pushed
// or braked there: the courses of frames end at such a kink, the motion does not.
func (s *stretch) leadsOn(end int, among []*stretch) bool {
	from, to := s.times()
	sign, edge := -1.0, from
	if end == 1 {
		sign, edge = 1, to
	}
	for _, o := range among {
		a, b := o.times()
		near, far := b, a
		if end == 1 {
			near, far = a, b
		}
		if o == s || math.Abs(near-edge) > handover || sign*(far-edge) < leastSeconds {
			continue
		}
		if math.Max(s.slopeAtEnd(end), o.slopeAtEnd(1-end)) < steep {
			continue
		}
		x, u, _ := s.at((near + edge) / 2)
		y, v, _ := o.at((near + edge) / 2)
		if math.Hypot(u/x, v/y) < vague && related(x/y) {
			return true
		}
	}
	return false
}
