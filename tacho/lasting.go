package tacho

import (
	"cmp"
	"slices"

	"rotorhum/tacho/internal/comb"
	"rotorhum/tacho/internal/path"
)

// mostShare is the share of a recording that stretches fill from which on nothing more
// can last beside what was refused.
const mostShare = 0.85

// surelyLasting is the least odds, in nats, of what lasts beside what was refused, and
// mostAgile its largest agility: a few syllables in a row may last as long, but not as
// calmly. Of 300 synthetic recordings without a rotor none had both (measured).
const surelyLasting, mostAgile = 0.5, 0.4

// mostPassed is the largest agility of what is followed so that its lines count less where
// voices pass them, which is stiffer: of 136 stretches of voices that were followed so none
// showed less than 0.08, of 30 of rotors beside voices 22 did (measured).
const mostPassed = 0.05

// withLasting returns stretches with what goes on for longest in the frames beside what
// was refused, if that is a rotor's and is heard for longer than those that are heard
// meanwhile, which are its pieces.
func (f *finder) withLasting(in []*stretch, frames *comb.Frames, opt Options) ([]*stretch, error) {
	s, err := f.lasting(frames, opt)
	if err != nil || s == nil {
		return in, err
	}
	var others, pieces []*stretch
	for _, o := range in {
		if s.outlasts(o) {
			pieces = append(pieces, o)
		} else {
			others = append(others, o)
		}
	}
	if share([]*stretch{s}, 1) <= share(pieces, 1) {
		return in, nil
	}
	out := append(others, s)
	inTime(out)
	return out, nil
}

// lasting follows what goes on for longest beside what is brief and louder, and returns
// it if it is a rotor's. A voice leads a course away from the rotor wherever it is the
// louder of both; over more than a second it does not go on evenly.
func (f *finder) lasting(frames *comb.Frames, opt Options) (*stretch, error) {
	opt.Progress = nil
	long, err := frames.Lasting(f.src.Stopped)
	if err != nil {
		return nil, err
	}
	courses, err := path.Find(long, path.Usual(long.Hop), f.src.Stopped)
	if err != nil || len(courses) == 0 {
		return nil, err
	}
	c := slices.MaxFunc(courses, func(a, b path.Course) int { return cmp.Compare(a.Evidence, b.Evidence) })
	for i := range c.Steps {
		c.Steps[i].Moment *= comb.LastingEvery
	}
	// as always, and so that its lines count less where they are passed
	for _, opt.passed = range [...]bool{false, true} {
		s, err := f.follow(c, opt)
		if err != nil {
			return nil, err
		}
		if s == nil {
			continue
		}
		if err = f.judge(s, nil, opt); err != nil {
			return nil, err
		}
		most := mostAgile
		if s.passed {
			most = mostPassed
		}
		if s.rotor >= surelyLasting && f.surelyAmong(s, opt.Pulses) && s.agility() <= most && !s.hums(f.src.Hum()) {
			return s, nil
		}
	}
	return nil, nil
}

// outlasts reports whether a stretch goes on beside another for most of that.
func (s *stretch) outlasts(o *stretch) bool {
	from, to := o.times()
	a, b := s.common(o)
	return b-a > (to-from)/2
}
