package tacho

import (
	"math"
	"slices"
	"sort"

	"rotorhum/tacho/internal/comb"
	"rotorhum/tacho/internal/path"
	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// stretch is one uninterrupted course of a rotor, refined.
type stretch struct {
	fit *phase.Result
	// evidence is what the frames say for it, in nats.
	evidence float64
	// unequal says that lines between those of the pulses show blades that differ.
	unequal      bool
	alternatives []Alternative
	balanced     bool
	// courses are those of the frames that it was found by, found is the stretch as
	// the first of them showed it, before it was extended, and ends the evidence, in
	// nats, that it goes on beyond its ends.
	courses []path.Course
	found   *stretch
	ends    [2]float64
	// rotor are the odds, in nats, that it is a rotor's, if it was judged.
	rotor  float64
	judged bool
	// still is the share of its time for which its rate holds, went how it went on
	// when that was looked at.
	still float64
	went  continuity
	// others are the softer rotors that sound at the same time, as alternatives,
	// and softer the stretches of those with a motion of their own.
	others []Alternative
	softer []*stretch
	// alone is the sound without what sounds beside the stretch, nil where nothing
	// does, and beside the lines that were taken out of it.
	alone  *sound.Source
	beside []*phase.Stack
}

// as takes over what is known of the stretch s of the same sound.
func (n *stretch) as(s *stretch) *stretch {
	n.evidence, n.found, n.rotor, n.still, n.others = s.evidence, s.found, s.rotor, s.still, s.others
	n.softer, n.alone, n.beside = s.softer, s.alone, s.beside
	return n
}

const (
	// frameHop is the time between frames in seconds.
	frameHop = 0.02
	// courseHarmonics bounds the harmonics used while searching and
	// lineHarmonics those used while refining.
	courseHarmonics = 12
	lineHarmonics   = 20
	// lineMemory is the time, in seconds, for which lines are taken to keep
	// their phases while a course is refined.
	lineMemory = 0.35
	// A course counts as a rotor when it lasts this long and gathers this
	// much evidence (nats).
	leastSeconds  = 0.35
	leastEvidence = 14.0
	// framesShare and refineShare are what the search and the first refinement
	// take of the work.
	framesShare, refineShare = 0.5, 0.35
)

// followCourses finds and refines every stretch in which a rotor is heard.
//
// heard reports that something like a stack of lines was there all the same,
// but cannot be a rotor: a voice or a tune.
func followCourses(src *sound.Source, opt Options) (out []*stretch, heard bool, err error) {
	out, heard, frames, f, err := searchCourses(src, opt)
	if err == nil {
		out, err = f.company(frames, out, opt)
	}
	if err != nil {
		return nil, heard, err
	}
	return out, heard, nil
}

// searchCourses is followCourses without what else may sound with what is found, and
// returns the frames and the finder too.
func searchCourses(src *sound.Source, opt Options) (out []*stretch, heard bool, frames *comb.Frames, f *finder, err error) {
	frames, err = comb.Analyse(src, comb.FrameOptions{
		Lo: float64(opt.Range.Lo), Hi: math.Min(float64(opt.Range.Hi), 0.49*src.Rate),
		Hop: frameHop, Harmonics: courseHarmonics, Keep: 24, Least: path.Usual(frameHop).Least(),
		Progress: opt.part(0, framesShare).Progress,
	})
	if err != nil {
		return nil, false, nil, nil, err
	}
	opt.see.told(frames)
	f = &finder{src: src, known: map[courseKey]*stretch{}, whole: map[[2]*stretch]*stretch{}}
	seconds := src.Seconds()
	rejected := false
	for round := 0; round < 4; round++ {
		if round > 0 {
			opt.Progress = nil // what is left is brief
		}
		out = out[:0]
		var all []*stretch
		masked := false
		courses, err := path.Find(frames, path.Usual(frameHop), src.Stopped)
		if err != nil {
			return nil, heard, nil, nil, err
		}
		// the most credible first: the others may be the same sound
		order := make([]int, len(courses))
		for i := range order {
			order[i] = i
		}
		sort.SliceStable(order, func(i, j int) bool { return courses[order[i]].Evidence > courses[order[j]].Evidence })
		followed := 0.0
		var parts []*stretch
		for _, i := range order {
			c := courses[i]
			share := float64(c.Steps[len(c.Steps)-1].Moment-c.Steps[0].Moment+1) / float64(len(frames.Moments))
			s, err := f.follow(c, opt.part(framesShare+followed*refineShare, framesShare+(followed+share)*refineShare))
			followed += share
			if err != nil {
				return nil, heard, nil, nil, err
			}
			if s == nil {
				opt.see.told(courseJudged{round, c, nil})
				continue
			}
			heard = true
			all = append(all, s.found)
			parts = append(parts, s)
		}
		if parts, err = f.united(parts, opt); err != nil {
			return nil, heard, nil, nil, err
		}
		for _, s := range parts {
			same := sameSound(out, s.courses)
			if same != nil {
				same.evidence += s.evidence
			} else if err := f.judge(s); err != nil {
				return nil, heard, nil, nil, err
			}
			for _, c := range s.courses {
				opt.see.told(courseJudged{round, c, s})
			}
			switch {
			case same != nil:
			case s.rotor < 0 || s.hums(src.Hum()) || f.again(s, opt.Pulses):
				// a voice may hide a rotor: look again without it
				for _, c := range s.courses {
					mask(frames, c)
				}
				masked, rejected = true, true
			default:
				out = append(out, s)
			}
		}
		inTime(all)
		if round == 0 && tune(all, opt.Pulses) { // later rounds hear what is left between the masks
			return nil, true, frames, f, nil
		}
		if !masked {
			break
		}
	}
	inTime(out)
	if rejected && share(out, seconds) < leastShare {
		out = slices.DeleteFunc(out, func(s *stretch) bool { return s.rotor < beyondDoubt })
	}
	out = slices.DeleteFunc(out, func(s *stretch) bool { return s.rotor < amongNotes(f.notes) })
	return out, heard, frames, f, nil
}

// finder follows courses, each only once.
type finder struct {
	src   *sound.Source
	known map[courseKey]*stretch
	// whole are stretches made of two.
	whole map[[2]*stretch]*stretch
	// refused counts the courses that are no rotor's, notes those of them that
	// are notes.
	refused, notes int
	// steady are those notes, and hums.
	steady []*stretch
}

// courseKey tells courses apart.
type courseKey struct {
	first, last int
	evidence    float64
}

// follow refines a course and goes on with it where its lines go on. It returns nil
// for what is too brief or too weak.
func (f *finder) follow(c path.Course, opt Options) (*stretch, error) {
	n := len(c.Steps)
	key := courseKey{c.Steps[0].Moment, c.Steps[n-1].Moment, c.Evidence}
	if d := float64(key.last-key.first+1) * frameHop; d < leastSeconds || c.Evidence < leastEvidence {
		return nil, nil
	}
	if s, ok := f.known[key]; ok {
		return s, nil
	}
	f.known[key] = nil
	s, err := refineCourse(f.src, smoothCourse(c, f.src), 0.003, opt)
	if err != nil || s == nil {
		return nil, err
	}
	long, ends, err := s.extended(f.src, opt)
	if err != nil {
		return nil, err
	}
	long.courses, long.found, long.evidence, long.ends = []path.Course{c}, s, c.Evidence, ends
	f.known[key] = long
	return long, nil
}

// judge weighs whether a stretch is a rotor's.
func (f *finder) judge(s *stretch) (err error) {
	if s.judged {
		return nil
	}
	if s.rotor, err = s.odds(f.src, s.ends, f.refused); err != nil {
		return err
	}
	s.judged = true
	if s.rotor < 0 {
		f.refused++
	}
	switch {
	case s.hums(f.src.Hum()):
		f.steady = append(f.steady, s)
	case s.rotor < 0 && s.noted():
		f.notes++
		f.steady = append(f.steady, s)
	}
	return nil
}

// again reports whether a stretch is for most of its time a note or a hum that was
// refused, in what was left without that.
func (f *finder) again(s *stretch, pulses int) bool {
	from, to := s.times()
	return slices.ContainsFunc(f.steady, func(o *stretch) bool {
		a, b := s.common(o)
		return o != s && b-a > (to-from)/2 && s.movesWith(o, pulses) != 0
	})
}

// inTime sorts stretches by their beginnings.
func inTime(in []*stretch) {
	sort.SliceStable(in, func(i, j int) bool {
		a, _ := in[i].times()
		b, _ := in[j].times()
		return a < b
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

// refineCourse follows the phase of a course; rough is the relative error to expect
// of it.
func refineCourse(src *sound.Source, c phase.Course, rough float64, opt Options) (*stretch, error) {
	return refineTurns(src, c, 0, rough, opt)
}

// refineTurns is refineCourse for a rotor whose pulses, so many a turn, are not
// alike.
func refineTurns(src *sound.Source, c phase.Course, pulses int, rough float64, opt Options) (*stretch, error) {
	return refineBeside(src, c, pulses, rough, nil, opt)
}

// refineBeside is refineTurns for a rotor beside which the lines of others sounded,
// that are no more in src: its own near them have no say.
func refineBeside(src *sound.Source, c phase.Course, pulses int, rough float64, beside []*phase.Stack, opt Options) (*stretch, error) {
	r, err := phase.Follow(src, c, rough, phase.Options{Harmonics: lineHarmonics, Memory: lineMemory, Pulses: pulses, Beside: beside, Progress: opt.Progress})
	if err != nil || r == nil {
		return nil, err
	}
	if src.Seconds() > wholeSeconds {
		r.Compact()
	}
	return &stretch{fit: r}, nil
}

// again follows a stretch anew at the given ratio to its rate, with the pattern of so
// many pulses a turn, 0 for none, in the sound in which it was followed. It returns
// nil where that leaves too little.
func (s *stretch) again(src *sound.Source, ratio float64, pulses int, opt Options) (*stretch, error) {
	n, err := refineBeside(s.in(src), s.course(ratio, src.Seconds()), pulses, 0.002, s.beside, opt)
	if err != nil || n == nil {
		return nil, err
	}
	return n.as(s), nil
}

// edgeSeconds is how near to an edge of the recording a course is taken to it.
const edgeSeconds = 0.5

// bent is by how much (of the logarithm) the lines through the steps before and
// after one must miss each other for it to count as a bend.
const bent = 0.004

// smoothCourse turns the steps of a course into knots of a smooth one: a
// straight line in the logarithm through the neighbours of each step, or through
// those on one side of it only, where that fits clearly better, as beside a kink.
func smoothCourse(c path.Course, src *sound.Source) phase.Course {
	var out phase.Course
	const half = 4
	n := len(c.Steps)
	at := func(i int) (float64, float64) {
		s := c.Steps[i]
		return float64(s.Moment) * frameHop, math.Log(s.State.Rate)
	}
	// line returns the value at step i of the line through the steps from i+lo to
	// i+hi, and the mean square by which they miss it
	line := func(i, lo, hi int) (y, miss float64) {
		t0, y0 := at(i)
		var sw, st, sy, stt, sty, syy float64
		reach := max(-lo, hi)
		for j := max(0, i+lo); j <= min(n-1, i+hi); j++ {
			t, y := at(j)
			t, y = t-t0, y-y0
			if math.Abs(t) > (float64(reach)+0.5)*frameHop {
				continue
			}
			w := 1 - math.Abs(t)/(float64(reach+1)*frameHop)
			sw += w
			st += w * t
			sy += w * y
			stt += w * t * t
			sty += w * t * y
			syy += w * y * y
		}
		y, slope := sy/sw, 0.0
		if d := sw*stt - st*st; d > 1e-12 {
			y, slope = (sy*stt-st*sty)/d, (sw*sty-st*sy)/d
		}
		return y0 + y, math.Max(0, syy+sw*y*y+slope*slope*stt-2*y*sy-2*slope*sty+2*y*slope*st) / sw
	}
	for i := range c.Steps {
		t, _ := at(i)
		y, miss := line(i, -half, half)
		before, missBefore := line(i, -2*half, 0)
		after, missAfter := line(i, 0, 2*half)
		bend := math.Abs(after-before)/2 - bent
		if bend > 0 {
			if best := math.Min(missBefore, missAfter); best < 0.25*miss {
				y = before
				if missAfter < missBefore {
					y = after
				}
			}
		}
		out.T = append(out.T, t)
		out.Rate = append(out.Rate, math.Exp(y))
		out.Bend = append(out.Bend, math.Max(0, bend))
	}
	// half a block further on either side, so that blocks cover the ends
	extend := func(t, rate, slope, sign float64) (float64, float64) {
		dt := sign * math.Min(0.12, 2.2/rate)
		// frames that reach over the edge of the recording are half empty and
		// easily lost: near an edge the course is taken to it
		if sign < 0 && t < edgeSeconds {
			dt = -t
		} else if end := src.Seconds(); sign > 0 && end-t < edgeSeconds {
			dt = end - t
		}
		u := math.Min(math.Max(0, t+dt), src.Seconds())
		return u, rate * math.Exp(math.Max(-0.3, math.Min(0.3, slope*(u-t))))
	}
	if n >= 2 {
		slope := math.Log(out.Rate[1]/out.Rate[0]) / (out.T[1] - out.T[0])
		if t, r := extend(out.T[0], out.Rate[0], slope, -1); t < out.T[0]-1e-6 {
			out.T = append([]float64{t}, out.T...)
			out.Rate = append([]float64{r}, out.Rate...)
			out.Bend = append([]float64{out.Bend[0]}, out.Bend...)
		}
		k := len(out.T)
		slope = math.Log(out.Rate[k-1]/out.Rate[k-2]) / (out.T[k-1] - out.T[k-2])
		if t, r := extend(out.T[k-1], out.Rate[k-1], slope, 1); t > out.T[k-1]+1e-6 {
			out.T = append(out.T, t)
			out.Rate = append(out.Rate, r)
			out.Bend = append(out.Bend, out.Bend[k-1])
		}
	}
	return out
}

// times returns the first and the last moment of a stretch.
func (s *stretch) times() (from, to float64) {
	b := s.fit.Blocks
	return b[0].T, b[len(b)-1].T
}

// leastReach is how near to an edge of the recording a stretch is taken to it
// whatever the length of its blocks, in seconds.
const leastReach = 0.02

// reach is times, taken to the very ends of a recording of the given length
// where the stretch runs into them.
func (s *stretch) reach(seconds float64) (from, to float64) {
	from, to = s.times()
	b := s.fit.Blocks
	if from < math.Max(leastReach, 1.1*b[0].Length) {
		from = 0
	}
	if seconds-to < math.Max(leastReach, 1.1*b[len(b)-1].Length) {
		to = seconds
	}
	return from, to
}

// at returns the rate (Hz) at time t inside the stretch, its standard
// uncertainty and the signal-to-noise ratio.
func (s *stretch) at(t float64) (hz, u, snr float64) {
	b, m := s.fit.Blocks, s.fit.Motion
	i := sort.Search(len(b), func(i int) bool { return b[i].T >= t })
	if i == 0 {
		i = 1
	}
	if i == len(b) {
		i = len(b) - 1
	}
	if first, end := 0, len(b)-1; t < b[first].T || t > b[end].T {
		k := first
		if t > b[end].T {
			k = end
		}
		omega, u := s.beyond(m[k], s.fit.QAt(k), t-b[k].T)
		return omega / (2 * math.Pi), u / (2 * math.Pi), s.fit.SNR[k]
	}
	h := b[i].T - b[i-1].T
	f := (t - b[i-1].T) / h
	omega := hermite(f, m[i-1].Omega, m[i].Omega, h*m[i-1].Alpha, h*m[i].Alpha)
	v := (1-f)*m[i-1].OmegaVar + f*m[i].OmegaVar
	return omega / (2 * math.Pi), math.Sqrt(v) / (2 * math.Pi), (1-f)*s.fit.SNR[i-1] + f*s.fit.SNR[i]
}

// beyond carries the motion e on by dt seconds and returns the rate (rad/s) and
// its standard uncertainty there, with changes of intensity q.
func (s *stretch) beyond(e phase.Smooth, q, dt float64) (omega, u float64) {
	d := math.Abs(dt)
	u = math.Sqrt(e.OmegaVar) + d*math.Sqrt(e.AlphaVar)
	return e.Omega + e.Alpha*dt, math.Sqrt(u*u + q*d*d*d/3)
}

// hermite is the cubic with values a, b and slopes da, db at 0 and 1.
func hermite(u, a, b, da, db float64) float64 {
	u2, u3 := u*u, u*u*u
	return a*(2*u3-3*u2+1) + b*(3*u2-2*u3) + da*(u3-2*u2+u) + db*(u3-u2)
}

// turn returns the phase of the stretch in turns of the pulse rate at time t.
func (s *stretch) turn(t float64) float64 {
	b, m := s.fit.Blocks, s.fit.Motion
	i := sort.Search(len(b), func(i int) bool { return b[i].T >= t })
	if i == 0 {
		i = 1
	}
	if i == len(b) {
		i = len(b) - 1
	}
	h := b[i].T - b[i-1].T
	f := (t - b[i-1].T) / h
	if f < 0 || f > 1 {
		e := m[i-1]
		if f > 1 {
			e = m[i]
			f--
		}
		return (e.Phi + e.Omega*f*h) / (2 * math.Pi)
	}
	return hermite(f, m[i-1].Phi, m[i].Phi, h*m[i-1].Omega, h*m[i].Omega) / (2 * math.Pi)
}

// course returns the stretch as knots, its rate times ratio, with half a block
// more on either side, so that blocks cover it to its ends again, and to the very
// ends of a recording of the given length where it runs into them.
func (s *stretch) course(ratio, seconds float64) phase.Course {
	var c phase.Course
	b, m := s.fit.Blocks, s.fit.Motion
	knot := func(t, omega float64) {
		c.T = append(c.T, t)
		c.Rate = append(c.Rate, ratio*omega/(2*math.Pi))
	}
	carry := func(k int, dt float64) {
		if t, w := b[k].T+dt, m[k].Omega+m[k].Alpha*dt; t >= 0 && w > 0.5*m[k].Omega && w < 2*m[k].Omega {
			knot(t, w)
		}
	}
	end := len(b) - 1
	from, to := s.reach(seconds)
	carry(0, -math.Max(math.Min(b[0].Length/2, b[0].T), b[0].T-from))
	for i := range b {
		knot(b[i].T, m[i].Omega)
	}
	carry(end, math.Max(b[end].Length/2, to-b[end].T))
	return c
}
