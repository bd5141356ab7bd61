package tacho

import (
	"math"

	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// united makes one of stretches that overlap and are the same motion there: each
// may reach where the other does not.
func united(src *sound.Source, in []*stretch, opt Options) ([]*stretch, error) {
	opt.Progress = nil
	for i := 0; i < len(in); i++ {
		for j := i + 1; j < len(in); {
			a, b := in[i], in[j]
			if !a.movesWith(b) {
				j++
				continue
			}
			n, err := a.united(b, src, opt)
			if err != nil {
				return nil, err
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
	return in, nil
}

const (
	// alongSeconds is for how long two stretches must overlap for their motions to
	// be compared, alongShare for what share of that they must be the same, to within
	// sameRate (relative).
	alongSeconds, alongShare, sameRate = 0.1, 0.8, 0.005
)

// common returns the time for which both stretches are heard, to before from if
// there is none.
func (s *stretch) common(o *stretch) (from, to float64) {
	a, b := s.times()
	c, d := o.times()
	return math.Max(a, c), math.Min(b, d)
}

// movesWith reports whether two stretches overlap and are the same motion there.
func (s *stretch) movesWith(o *stretch) bool {
	from, to := s.common(o)
	if to-from < alongSeconds {
		return false
	}
	same := func(ratio float64) bool { return math.Abs(ratio-1) < sameRate }
	return s.alike(o, from, to, same) >= alongShare
}

// alike returns the share of the time between from and to in which the ratio of the
// rates of two stretches is as asked.
func (s *stretch) alike(o *stretch, from, to float64, asked func(ratio float64) bool) float64 {
	yes, all := 0.0, 0.0
	for t := from; t <= to; t += frameHop {
		x, _, _ := s.at(t)
		y, _, _ := o.at(t)
		if asked(x / y) {
			yes++
		}
		all++
	}
	return yes / math.Max(1, all)
}

// united returns the two stretches as one, nil if they cannot be followed so.
func (s *stretch) united(o *stretch, src *sound.Source, opt Options) (*stretch, error) {
	a, b := s, o
	from, end := a.times()
	start, to := b.times()
	if start < from {
		a, b = b, a
		from, end, start, to = start, to, from, end
	}
	n := a
	if to > end {
		// from one to the other amid what they share
		middle := (start + end) / 2
		c, d := a.course(1, src.Seconds()), b.course(1, src.Seconds())
		var both phase.Course
		for k, t := range c.T {
			if t < middle {
				both.T, both.Rate = append(both.T, t), append(both.Rate, c.Rate[k])
			}
		}
		for k, t := range d.T {
			if t >= middle {
				both.T, both.Rate = append(both.T, t), append(both.Rate, d.Rate[k])
			}
		}
		var err error
		if n, err = refineCourse(src, both, 0.002, opt); err != nil || n == nil {
			return nil, err
		}
	}
	whole := *n
	whole.evidence, whole.rotor, whole.found = a.evidence+b.evidence, math.Max(a.rotor, b.rotor), a.found
	return &whole, nil
}
