package tacho

import (
	"math"
	"slices"

	"rotorhum/tacho/internal/path"
	"rotorhum/tacho/internal/sound"
)

// finder follows courses, each only once.
type finder struct {
	src   *sound.Source
	known map[courseKey]*stretch
	// whole are stretches made of two.
	whole map[[2]*stretch]*stretch
	// refused are those that are no rotor's, notes those of them that are notes.
	refused, notes []*stretch
	// steady are those notes, and hums.
	steady []*stretch
}

// courseKey tells courses apart.
type courseKey struct {
	first, last int
	evidence    float64
	passed      bool // by voices
}

// follow refines a course and goes on with it where its lines go on. It returns nil
// for what is too brief or too weak.
func (f *finder) follow(c path.Course, opt Options) (*stretch, error) {
	n := len(c.Steps)
	key := courseKey{c.Steps[0].Moment, c.Steps[n-1].Moment, c.Evidence, opt.passed}
	if d := float64(key.last-key.first+1) * frameHop; d < leastSeconds || c.Evidence < leastEvidence {
		return nil, nil
	}
	if s, ok := f.known[key]; ok {
		return s, nil
	}
	f.known[key] = nil
	toEdge := [2]bool{true, true}
	s, err := refineCourse(f.src, smoothCourse(c, f.src, toEdge), 0.003, opt)
	if err != nil || s == nil {
		return nil, err
	}
	if heard := s.heardToEdges(c); heard != toEdge {
		opt.Progress = nil // this is brief
		if s, err = refineCourse(f.src, smoothCourse(c, f.src, heard), 0.003, opt); err != nil || s == nil {
			return nil, err
		}
	}
	long, ends, err := s.extended(f.src, opt)
	if err != nil {
		return nil, err
	}
	long.courses, long.found, long.evidence, long.ends = []path.Course{c}, s, c.Evidence, ends
	f.known[key] = long
	return long, nil
}

// judge weighs whether a stretch is a rotor's, among others.
func (f *finder) judge(s *stretch, among []*stretch, opt Options) (err error) {
	if s.judged {
		return nil
	}
	ends := s.ends
	for i := range ends {
		if s.leadsOn(i, among) {
			ends[i] = 0
		}
	}
	odds, err := s.odds(f.src, ends)
	if err != nil {
		return err
	}
	s.rotor = odds - f.byChance(s, opt.Pulses)
	if s.nextTo(among, func(o *stretch) bool { return o.judged && o.rotor > beyondDoubt+caution }) {
		s.rotor += caution
	}
	if s.rotor < 0 {
		if err := f.unlike(s, ends, opt); err != nil {
			return err
		}
	}
	if s.rotor < beyondDoubt && s.agility() < mostAgile && voices(among) {
		if err := f.hearOut(s, opt); err != nil {
			return err
		}
	}
	s.judged, s.nats = true, s.rotor+caution+f.byChance(s, opt.Pulses)
	switch hum := s.hums(f.src.Hum()); {
	case hum:
		f.steady = append(f.steady, s)
	case s.rotor < 0:
		f.refused = append(f.refused, s)
		if s.holdsRate() {
			f.notes = append(f.notes, s)
			f.steady = append(f.steady, s)
		}
	}
	return nil
}

// unlike weighs a stretch that is too restless for a rotor's once more, without what
// comes again with every turn of one whose pulses are told: blades that are not alike.
func (f *finder) unlike(s *stretch, ends [2]float64, opt Options) error {
	if opt.Pulses < 2 || s.agility() < restless {
		return nil
	}
	opt.Progress = nil
	n, err := s.again(f.src, 1, opt.Pulses, opt)
	if err != nil || n == nil {
		return err
	}
	odds, err := n.odds(f.src, ends)
	if odds -= f.byChance(n, opt.Pulses); err == nil && odds > 0 {
		s.fit, s.pulses, s.rotor = n.fit, n.pulses, odds
	}
	return err
}

// voices reports whether any of the stretches moves like one.
func voices(among []*stretch) bool {
	return slices.ContainsFunc(among, func(s *stretch) bool { return s.agility() > restless })
}

// hearOut weighs a calm stretch beside which voices are heard once more, by what it keeps
// of its power in phase where they do not pass its lines: they may be louder than it.
func (f *finder) hearOut(s *stretch, opt Options) error {
	opt.Progress = nil
	n, err := s.heardOut(f.src, opt)
	if err == nil && n != nil && n.agility() < mostAgile {
		a := s.agility()
		s.rotor += math.Max(0, keeping(n.fit.Clear, a, s.still)-keeping(s.fit.Coherence, a, s.still))
	}
	return err
}

// byChance is what it costs a stretch, in nats, that others were refused: the more are
// looked at, the more pass by chance. What holds its rate does not pass among syllables,
// which do not, nor the other way round.
func (f *finder) byChance(s *stretch, pulses int) float64 {
	n := s.strangers(f.notes, pulses)
	if !s.holdsRate() {
		n = s.strangers(f.refused, pulses) - n
	}
	return math.Log1p(float64(n))
}

// strangers returns how many of the stretches are no pieces of this one, that were weighed
// before what lies between them was heard.
func (s *stretch) strangers(of []*stretch, pulses int) (n int) {
	for _, o := range of {
		if !(s.outlasts(o) && o.movesWith(s, pulses) != 0) {
			n++
		}
	}
	return n
}

// surelyAmong reports whether a stretch is a rotor's for all the notes that were heard.
func (f *finder) surelyAmong(s *stretch, pulses int) bool {
	return s.rotor >= amongNotes(s.strangers(f.notes, pulses))
}

// refusedBefore reports whether a stretch is for most of its time a note or a hum that
// was refused, in what was left without that. It may be one beyond doubt where more of it
// is heard.
func (f *finder) refusedBefore(s *stretch, pulses int) bool {
	from, to := s.times()
	return slices.ContainsFunc(f.steady, func(o *stretch) bool {
		a, b := s.common(o)
		ratio := s.movesWith(o, pulses)
		return o != s && b-a > (to-from)/2 && ratio != 0 && (ratio != 1 || s.rotor < beyondDoubt)
	})
}

// sameSound returns the stretch that the courses of another run along, at a simple
// ratio, for most of their time, or nil.
func sameSound(in []*stretch, courses []path.Course) *stretch {
	for _, s := range in {
		from, to := s.times()
		along, steps := 0, 0
		for _, c := range courses {
			steps += len(c.Steps)
			for _, q := range c.Steps {
				if t := float64(q.Moment) * frameHop; t >= from && t <= to {
					if hz, _, _ := s.at(t); related(q.State.Rate / hz) {
						along++
					}
				}
			}
		}
		if 3*along > 2*steps {
			return s
		}
	}
	return nil
}

// courseJudged is what is told to an observer of a course: in which round it was
// found, and what became of it, nothing if it was not followed.
type courseJudged struct {
	round int
	path.Course
	followed *stretch
}
