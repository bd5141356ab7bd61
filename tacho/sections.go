package tacho

import (
	"math"
	"slices"

	"rotorhum/tacho/internal/sound"
)

// sections are how a recording of more than whole seconds is searched: in sections
// of at most so many seconds, each as if it were a recording of its own, so that
// what is weighed in the search needs no more memory for an hour than for minutes.
// Sections overlap by seam seconds, in the middle of which one gives over to the
// next.
type sections struct{ whole, each, seam float64 }

// wholeSeconds is the length up to which a recording is searched as one.
const wholeSeconds = 600

// usual are the sections of a measurement.
var usual = sections{whole: wholeSeconds, each: 300, seam: 10}

// seamError is by how much, relative, the rates of one motion may differ at a seam.
const seamError = 0.01

// follow is followCourses for recordings of any length. An observer sees the whole
// at once.
func (c sections) follow(src *sound.Source, opt Options) (out []*stretch, all heard, err error) {
	seconds := src.Seconds()
	if seconds <= c.whole || opt.see != nil {
		return followCourses(src, opt)
	}
	n := math.Ceil(seconds / c.each)
	for k := range int(n) {
		share, end := float64(k)/n, float64(k+1)/n
		at := seconds * share
		first := int(math.Max(0, at-c.seam/2) * src.Rate)
		part := src.Part(first, int((seconds*end+c.seam/2)*src.Rate))
		found, other, err := followCourses(part, opt.part(share, end))
		if err != nil {
			return nil, all, err
		}
		all = append(all, other...)
		compactAt(found, float64(first)/src.Rate)
		out = atSeam(out, found, at)
	}
	inTime(out)
	return out, all, nil
}

// compactAt keeps of the stretches of a section, and of the softer ones beside them,
// what a track is made of, in the time of the recording, in which the section begins
// at the given second. What is softer than several is moved once.
func compactAt(found []*stretch, begin float64) {
	moved := map[*stretch]bool{}
	for _, s := range found {
		s.courses, s.found = nil, nil
		for _, o := range append([]*stretch{s}, s.softer...) {
			if !moved[o] {
				o.fit.Compact()
				o.fit.Later(begin)
				moved[o] = true
			}
		}
	}
}

// atSeam puts the stretches of neighbouring sections together, which overlap
// around time at: a motion that both have followed is one stretch, and of what only
// one has, that counts which lies on its own side.
func atSeam(before, after []*stretch, at float64) (out []*stretch) {
	const edge = 1.0 // seconds: what begins or ends this near to the seam is left to the other side
	partner := map[*stretch]*stretch{}
	over := func(list []*stretch) bool {
		return slices.ContainsFunc(list, func(s *stretch) bool {
			from, to := s.times()
			return from < at && to > at
		})
	}
	cutBefore, cutAfter := over(after), over(before)
	for _, o := range before {
		for _, s := range after {
			if partner[s] == nil && o.runsWith(s) {
				partner[o], partner[s] = s, o
				break
			}
		}
	}
	for _, o := range before {
		from, to := o.times()
		s := partner[o]
		switch {
		case from >= at || s != nil && from > at-edge:
			continue
		case s != nil:
			o.goOnWith(s, at, edge)
		case to > at && cutBefore: // read differently from the seam on
			if o.fit = o.fit.Before(at); o.fit == nil {
				continue
			}
		}
		out = append(out, o)
	}
	for _, s := range after {
		from, to := s.times()
		o := partner[s]
		first := from
		if o != nil {
			first, _ = o.times()
		}
		switch {
		case to <= at || o != nil && first <= at-edge:
			continue // it is in its partner
		case o == nil && from < at && cutAfter:
			if s.fit = s.fit.From(at); s.fit == nil {
				continue
			}
		}
		out = append(out, s)
	}
	return out
}

// runsWith reports whether two stretches show the same motion.
func (s *stretch) runsWith(o *stretch) bool {
	from, to := s.common(o)
	if to-from < leastSeconds {
		return false
	}
	f, _, _ := s.at((from + to) / 2)
	g, _, _ := o.at((from + to) / 2)
	return math.Abs(f/g-1) < seamError
}

// goOnWith goes on with a stretch of the next section that shows the same motion,
// unless that ends near the seam itself.
func (s *stretch) goOnWith(next *stretch, at, edge float64) {
	if _, end := next.times(); end <= at+edge {
		return
	}
	from, to := s.common(next)
	at = math.Max(from, math.Min(at, to))
	// of the evidence each has its own side's
	first, end := s.times()
	start, last := next.times()
	s.evidence = s.evidence*(at-first)/(end-first) + next.evidence*(last-at)/(last-start)
	s.rotor = math.Max(s.rotor, next.rotor)
	s.fit.Join(next.fit, at)
	s.went = continuity{} // the fit has changed
}
