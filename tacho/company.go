package tacho

import (
	"math"
	"slices"

	"rotorhum/tacho/internal/comb"
	"rotorhum/tacho/internal/path"
	"rotorhum/tacho/internal/phase"
)

// company looks for other rotors that sound at the same time as those in the list,
// each with a motion of its own, and keeps the louder ones of all: what goes on
// from one stretch to the next is one rotor, and of two that sound together the
// softer is put down as another.
func (f *finder) company(frames *comb.Frames, in []*stretch, opt Options) ([]*stretch, error) {
	if len(in) == 0 {
		return in, nil
	}
	more, err := f.besides(frames, in, opt)
	if err != nil {
		return nil, err
	}
	if len(more) > 0 {
		if in, more, err = f.inTurns(in, more, opt); err != nil {
			return nil, err
		}
	}
	all := slices.Concat(in, more)
	if len(all) == 1 {
		return all, nil
	}
	inTime(all)
	if len(more) > 0 {
		if all, err = f.rotors(all, opt); err != nil {
			return nil, err
		}
		if err = f.uncross(all, more, opt); err != nil {
			return nil, err
		}
	}
	if len(more) == 0 {
		if all, err = f.goOn(all, opt); err != nil {
			return nil, err
		}
	}
	return f.apart(all, more, opt.Pulses)
}

// inTurns looks anew for each of two sounds in what the other leaves, as the first
// may have been followed along lines of both.
func (f *finder) inTurns(in, more []*stretch, opt Options) (first, second []*stretch, err error) {
	anew, err := f.leaves(more, opt)
	if err != nil || len(anew) == 0 {
		return in, more, err
	}
	if len(anew) == len(in) && !slices.ContainsFunc(anew, func(s *stretch) bool { return !s.along(in) }) {
		return anew, more, nil
	}
	opt.Range = DefaultRange
	other, err := f.leaves(anew, opt)
	if err != nil {
		return nil, nil, err
	}
	if other = f.credible(other, anew, opt.Pulses); len(other) > 0 {
		more = other
	}
	return anew, more, nil
}

// credible returns those of what was found beside others that are rotors with a
// motion of their own.
func (f *finder) credible(more, in []*stretch, pulses int) []*stretch {
	return slices.DeleteFunc(more, func(s *stretch) bool {
		from, to := s.times()
		return to-from < leastBeside || s.rotor < beyondDoubt || !f.surelyAmong(s, pulses) || s.hums(f.src.Hum()) || s.along(in) || s.rings(in)
	})
}

// rings reports whether a stretch found in what others leave lies near the rate of one
// of them for most of its time: it is what a room holds of that rotor, which lags behind
// it and sways.
func (s *stretch) rings(in []*stretch) bool {
	const near = 0.03
	from, to := s.times()
	return slices.ContainsFunc(in, func(o *stretch) bool {
		first, last := s.common(o)
		share := s.alike(o, first, last, func(ratio, _ float64) bool { return math.Abs(ratio-1) < near })
		return share*(last-first) > (to-from)/2
	})
}

// besides returns what sounds with the given stretches, followed in what is left of
// the sound without their lines, if there are courses that they do not explain.
func (f *finder) besides(frames *comb.Frames, in []*stretch, opt Options) ([]*stretch, error) {
	if yes, err := f.unexplained(frames, in); err != nil || !yes {
		return nil, err
	}
	for _, s := range in {
		s.amid = true
	}
	opt.Range = DefaultRange // the other may lie outside
	more, err := f.leaves(in, opt)
	if err != nil {
		return nil, err
	}
	return f.credible(more, in, opt.Pulses), nil
}

// leaves returns what is found in what is left of the sound without the lines of
// the given stretches.
func (f *finder) leaves(in []*stretch, opt Options) ([]*stretch, error) {
	var lines []*phase.Stack
	for _, s := range in {
		l, err := s.stack(f.src, opt.Pulses)
		if err != nil || l == nil {
			return nil, err
		}
		lines = append(lines, l)
	}
	opt.Progress, opt.see = nil, nil
	out, _, _, _, err := searchCourses(without(f.src, lines...), opt)
	return out, err
}

// unexplained reports whether the frames hold courses that the given stretches do
// not explain.
func (f *finder) unexplained(frames *comb.Frames, in []*stretch) (bool, error) {
	rules := path.Usual(frameHop)
	left := &comb.Frames{Hop: frames.Hop, Moments: make([]comb.Moment, len(frames.Moments))}
	for i, m := range frames.Moments {
		var now []float64
		t := float64(i) * frameHop
		for _, s := range in {
			if from, to := s.times(); t >= from-edgeSeconds && t <= to+edgeSeconds {
				hz, _, _ := s.at(t)
				now = append(now, hz)
			}
		}
		left.Moments[i].Power = m.Power
		for _, q := range m.States {
			// a candidate that says less than it costs a course is of no use; what goes on for
			// long may say little more at every moment, as the lines searched hold a part of it
			if q.Evidence > rules.Idle && !slices.ContainsFunc(now, func(hz float64) bool { return echoes(q.Rate / hz) }) {
				left.Moments[i].States = append(left.Moments[i].States, q)
			}
		}
	}
	courses, err := path.Find(left, rules, f.src.Stopped)
	if err != nil {
		return false, err
	}
	sum := 0.0
	for _, c := range courses {
		if c.Evidence < leastEvidence || alongside(c, in) {
			continue
		}
		if sum += c.Evidence; c.Evidence >= leastUnexplained && float64(len(c.Steps))*frameHop >= leastBeside {
			return true, nil
		}
	}
	if sum >= math.Max(leastUnexplained, unexplainedRate*f.src.Seconds()) {
		return true, nil
	}
	return f.linesPass(in)
}

// linesPass reports whether lines that are none of the given stretches pass theirs: the
// multiples of a rate may leave no place among the candidates of the frames for another.
func (f *finder) linesPass(in []*stretch) (bool, error) {
	start, end := math.Inf(1), 0.0
	var rates []func(t float64) float64
	for _, s := range in {
		from, to := s.times()
		start, end = math.Min(start, from), math.Max(end, to)
		rates = append(rates, func(t float64) float64 {
			if t < from || t > to {
				return 0
			}
			hz, _, _ := s.at(t)
			return hz
		})
	}
	seconds, err := comb.Passing(f.src, rates, start, end)
	return seconds >= math.Max(leastPassing, passingShare*(end-start)), err
}

// What sounds beside a rotor is followed from leastBeside seconds on; it is looked
// for where the frames hold a course of leastUnexplained nats that is not the
// rotor's, or pieces of courses that come to as much, and to unexplainedRate nats a
// second.
const leastBeside, leastUnexplained, unexplainedRate = 0.8, 100.0, 10.0

// leastPassing and passingShare are for how many seconds, and for what share of the time,
// lines of something else must pass for it to be looked for.
const leastPassing, passingShare = 0.4, 0.05

// echoes reports whether r is so near to a ratio of small whole numbers that a
// candidate is but another reading of the same lines. Beside the simplest ratios the
// slopes of the lines reach far in a short frame.
func echoes(r float64) bool {
	if related(r) {
		return true
	}
	for q := 1.0; q <= 4; q++ {
		if p := math.Round(r * q); p >= 1 && p <= 8 && math.Abs(r*q/p-1) < 0.01 {
			return true
		}
	}
	return false
}

// along reports whether a stretch runs along one of the others at one ratio to it,
// or is it: then it has no motion of its own, and the ratio is weighed later.
func (s *stretch) along(in []*stretch) bool {
	const same = 0.004
	from, to := s.times()
	for _, o := range in {
		a, b := s.common(o)
		if longer*(b-a) < to-from {
			continue
		}
		lo, hi := math.Inf(1), 0.0
		const looks = 40
		for i := range looks {
			t := a + (b-a)*(float64(i)+0.5)/looks
			x, _, _ := s.at(t)
			y, _, _ := o.at(t)
			lo, hi = math.Min(lo, x/y), math.Max(hi, x/y)
		}
		if hi/lo-1 < same && simple(math.Sqrt(lo*hi)) {
			return true
		}
	}
	return false
}

// alongside reports the same of a course that nobody has followed yet, as far as its
// frames tell: most of its steps lie at one simple ratio to a stretch.
func alongside(c path.Course, in []*stretch) bool {
	const near, most = 0.01, 0.8
	for _, o := range in {
		from, to := o.times()
		var ratios []float64
		for _, q := range c.Steps {
			if t := float64(q.Moment) * frameHop; t >= from && t <= to {
				hz, _, _ := o.at(t)
				ratios = append(ratios, q.State.Rate/hz)
			}
		}
		if float64(len(ratios)) < most*float64(len(c.Steps)) {
			continue
		}
		slices.Sort(ratios)
		middle := ratios[len(ratios)/2]
		if !simple(middle) {
			continue
		}
		alike := 0.0
		for _, r := range ratios {
			if math.Abs(r/middle-1) < near {
				alike++
			}
		}
		if alike >= most*float64(len(ratios)) {
			return true
		}
	}
	return false
}

// rotors joins the stretches, which are in order of time, that go on from one to the
// next, whatever else sounds between them.
func (f *finder) rotors(in []*stretch, opt Options) ([]*stretch, error) {
	opt.Progress = nil
	var out []*stretch
	taken := make([]bool, len(in))
	for i, s := range in {
		if taken[i] {
			continue
		}
		for j := i + 1; j < len(in); j++ {
			if taken[j] || !continues(s, in[j]) {
				continue
			}
			n, err := joinStretches(f.src, []*stretch{s, in[j]}, opt)
			if err != nil {
				return nil, err
			}
			if len(n) == 1 {
				n[0].found, n[0].rotor = s.found, math.Max(s.rotor, in[j].rotor)
				s, taken[j] = n[0], true
			}
		}
		out = append(out, s)
	}
	return out, nil
}
