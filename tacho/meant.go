package tacho

import (
	"math"
	"slices"
	"sort"
)

// apart sees to it that of stretches that sound at the same time only one is kept: the one
// that gives more sound in all, with its pieces at other times, as a rotor that is pushed
// for a while may be louder than one that hums on all the time, and of two at a simple
// ratio, which are the same sound, the one that covers much more. Those of more were found
// in what the others leave.
func (f *finder) apart(in, more []*stretch, pulses int) ([]*stretch, error) {
	sort.SliceStable(in, func(i, j int) bool { return in[i].evidence > in[j].evidence })
	var out, softer []*stretch
	for _, s := range in {
		from, to := s.times()
		keep := !s.along(softer) // else a part of what is softer elsewhere
		for k := 0; k < len(out) && keep; k++ {
			o := out[k]
			a, b := o.times()
			first, last := s.common(o)
			common := last - first
			if common < math.Min(joinSeconds, 0.5*math.Min(to-from, b-a)) {
				continue
			}
			louder := false
			x, y := to-from, b-a
			switch {
			case slices.Contains(more, s) == slices.Contains(more, o) && s.simplyAlong(o, first, last),
				s.along([]*stretch{o}), o.along([]*stretch{s}):
				// at a simple ratio they are the same sound, unless the one was found in what
				// the other leaves: the one that covers more
				louder = x > longer*y
			default:
				all, other, err := f.energies(s.withPieces(o, in), o.withPieces(s, in), pulses)
				if err != nil {
					return nil, err
				}
				louder = all > other
				const most = 0.6
				switch {
				case louder && common > most*x:
					s.others, s.softer, softer = append(s.others, o.asOther(s, first+common/2)), append(s.softer, o), append(softer, o)
				case !louder && common > most*y:
					o.others, o.softer, softer = append(o.others, s.asOther(o, first+common/2)), append(o.softer, s), append(softer, s)
				}
			}
			if louder {
				out = slices.Delete(out, k, k+1)
				k--
			} else {
				keep = false
			}
		}
		if keep {
			out = append(out, s)
		}
	}
	inTime(out)
	return out, nil
}

// longer is by how much more a stretch must cover than another of the same sound
// to be preferred for it.
const longer = 1.5

// simplyAlong reports whether two stretches run at a simple ratio for most of the
// time between from and to.
func (s *stretch) simplyAlong(o *stretch, from, to float64) bool {
	return s.alike(o, from, to, func(ratio, _ float64) bool { return related(ratio) }) > 2.0/3
}

// withPieces returns a stretch and what else sounds at other times than it while o does,
// without being o's: where o goes on all the time they are pieces of one rotor, of which
// something was not heard, or followed by another course.
func (s *stretch) withPieces(o *stretch, in []*stretch) []*stretch {
	const brief = 0.1 // of the time of a piece
	out := []*stretch{s}
	for _, p := range in {
		from, to := p.times()
		if p == s || p == o || slices.ContainsFunc(out, func(q *stretch) bool {
			first, last := p.common(q)
			return last-first > brief*(to-from)
		}) {
			continue
		}
		first, last := p.common(o)
		if last-first > (to-from)/2 && !p.simplyAlong(o, first, last) {
			out = append(out, p)
		}
	}
	return out
}

// asOther is the stretch as an alternative to another that sounds at the same time,
// in the middle of the time in common.
func (s *stretch) asOther(o *stretch, at float64) Alternative {
	x, _, _ := s.at(at)
	y, _, _ := o.at(at)
	return Alternative{Factor: ratioText(x / y), Odds: otherRotor, Tone: Hertz(x / y)}
}

// otherRotor are the odds that another rotor than the louder one is meant.
const otherRotor = 10
