package live

import (
	"math"

	"rotorhum/tacho"
	"rotorhum/tacho/internal/comb"
	"rotorhum/tacho/internal/path"
	"rotorhum/tacho/internal/phase"
)

const (
	// frameHop is the time between frames, in seconds, and frameAhead how much
	// sound must have been heard behind the middle of one.
	frameHop, frameAhead = 0.025, 0.125
	// frameCount is the number of frames that a course is sought in: what came
	// before does not count.
	frameCount = 48
	// frameReach is the number of hops that the longest frame reaches back.
	frameReach = 14
	// courseHarmonics bounds the harmonics used while searching, lineHarmonics
	// those used while refining.
	courseHarmonics, lineHarmonics = 12, 20
	// lineMemory is the time, in seconds, for which lines are taken to keep
	// their phases.
	lineMemory = 0.35
	// settleSeconds is how long after a moment its speed is taken as known from
	// both sides.
	settleSeconds = 0.25
)

// state is what the tracker knows after a step.
type state struct {
	heard bool
	why   string
	hz, u float64 // the pulse rate at the newest sample
	snr   float64 // dB
	// run is the number of the stack that is followed, heard or not: another
	// number is another stack. 0 is none.
	run int
	// factor is the rate over the one that was followed first, as far as that is a
	// matter of multiples: when it changes, all rates of the run told before were
	// wrong by as much.
	factor float64
	// settled are the rates that have come to be known from both sides since the
	// step before, tail what followed, up to now.
	settled, tail []point
}

// point is a pulse rate at a moment.
type point struct{ t, hz, u float64 }

// tracker finds one rotor and stays with it.
type tracker struct {
	fs    float64
	opt   tacho.Options
	watch *comb.Watch
	rules path.Rules
	// moments are the newest frames, first the number of the first of them.
	moments []comb.Moment
	first   int
	lock    *lock
	runs    int
	steps   steps
}

// lock is the stack of lines that is followed.
type lock struct {
	run   int
	since float64 // when it was first there
	steps int     // since then
	heard bool    // it was claimed
	sure  bool    // it was clear at the last step
	doubt int     // steps in which the frames spoke of something else
	noted bool    // it was steady once, and compared with what was there before
	ratio float64 // its rate over the one that the frames read
	// factor is its rate over the one that was followed first, as far as that is
	// a matter of multiples
	factor float64
	// past is its motion some time ago, known from both sides; knots what
	// followed. Both oldest first.
	past, knots []knot
	weights     weights
	temper      temper
}

// knot is the motion of the first line at a moment.
type knot struct {
	t float64
	phase.Smooth
}

func (k knot) point() point {
	return point{k.t, k.Omega / (2 * math.Pi), math.Sqrt(k.OmegaVar) / (2 * math.Pi)}
}

// pastSeconds is how long a lock remembers its motion.
const pastSeconds = 2.0

func newTracker(fs float64, opt tacho.Options) *tracker {
	hi := math.Min(float64(opt.Range.Hi), 0.49*fs)
	return &tracker{fs: fs, opt: opt, rules: path.Usual(frameHop),
		watch: comb.NewWatch(fs, comb.FrameOptions{Lo: float64(opt.Range.Lo), Hi: hi, Hop: frameHop, Harmonics: courseHarmonics, Keep: 24})}
}

// never is the question of an analysis whether to stop.
func never() error { return nil }

// step looks at the sound up to its newest sample.
func (t *tracker) step(s *memory, h *hum) state {
	end := s.end()
	now := float64(end) / t.fs
	if h.fresh {
		t.forget(now)
	}
	if err := t.look(s); err != nil {
		return state{why: err.Error()}
	}
	c, ok := t.course()
	f, err := t.refine(s, c, ok, now)
	switch {
	case err != nil:
		return state{why: err.Error()}
	case f == nil && ok:
		return state{why: begins}
	case f == nil:
		return state{why: quiet(t.moments)}
	}
	return t.decide(f, c, s, now, h)
}

// patience is the number of steps in which the frames may speak of something else
// before the lock lets go.
const patience = 6

// refine follows the lock up to now: along its own motion, carried on, or where
// that is not there or leads astray, along the course of the frames, if there is
// one.
func (t *tracker) refine(s *memory, c path.Course, ok bool, now float64) (*followed, error) {
	if l := t.lock; l != nil {
		fits := ok && l.fits(c, t.opt.Pulses)
		l.doubt++
		if fits {
			l.doubt = 0
		}
		var f *followed
		if l.doubt <= patience {
			guess := l.carried(now)
			reach := math.Max(refineSeconds, refineCycles/guess.Rate[len(guess.Rate)-1])
			var err error
			if f, err = t.follow(s, guess, 0.004, math.Min(reach, mostSeconds), now); err != nil || fits && l.sure && f != nil && f.good(now) {
				return f, err
			}
		}
		if ok && (fits || l.plausible(c)) {
			// a push may have come too suddenly to be foreseen
			g, err := t.follow(s, fresh(c, l.ratio, now), 0.01, mostSeconds, now)
			if err != nil || g != nil && g.better(f, now) {
				return g, err
			}
		}
		if f != nil && f.good(now) {
			return f, nil
		}
		t.drop()
	}
	if !ok {
		return nil, nil
	}
	f, err := t.follow(s, fresh(c, 1, now), 0.01, mostSeconds, now)
	if f != nil {
		t.runs++
		t.lock = &lock{since: float64(c.Steps[0].Moment) * frameHop, ratio: 1, factor: 1, run: t.runs}
	}
	return f, err
}

// drop lets go of what was followed.
func (t *tracker) drop() {
	if l := t.lock; l != nil {
		hz, _ := l.note()
		t.steps.left(l.knots[len(l.knots)-1].t, hz)
	}
	t.lock = nil
}

// forgetSeconds is the time that is looked at anew after a hum was noticed.
const forgetSeconds = 0.5

// forget drops what was made from sound with a hum in it.
func (t *tracker) forget(now float64) {
	t.drop()
	t.first = max(t.first, int((now-forgetSeconds)/frameHop))
	t.moments = t.moments[:0]
}

// look takes in the frames that have become due.
func (t *tracker) look(s *memory) error {
	next := t.first + len(t.moments)
	last := int(math.Floor((float64(s.end())/t.fs - frameAhead) / frameHop))
	if last < next {
		return nil
	}
	from := max(0, next-frameReach)
	x, at := s.from(int(math.Round(float64(from) * frameHop * t.fs)))
	if late := float64(at)/t.fs - float64(from)*frameHop; late > frameHop {
		// what is forgotten is silent
		from += int(late / frameHop)
		x, _ = s.from(int(math.Round(float64(from) * frameHop * t.fs)))
	}
	src, err := sourceOf(x, t.fs, t.fs)
	if err != nil {
		return err
	}
	m, err := t.watch.Moments(src, next-from, last-next+1)
	if err != nil {
		return err
	}
	t.moments = append(t.moments, m...)
	if drop := len(t.moments) - frameCount; drop > 0 {
		t.moments = append(t.moments[:0], t.moments[drop:]...)
		t.first += drop
	}
	return nil
}

// course returns the most credible course through the newest frames, if it goes
// on until now. Its moments are numbered from the start of listening.
func (t *tracker) course() (path.Course, bool) {
	if len(t.moments) < 4 { // too few to be sure of anything
		return path.Course{}, false
	}
	all, err := path.Find(&comb.Frames{Hop: frameHop, Moments: t.moments}, t.rules, never)
	if err != nil || len(all) == 0 {
		return path.Course{}, false
	}
	c := all[len(all)-1]
	if c.Steps[len(c.Steps)-1].Moment < len(t.moments)-4 || len(c.Steps) < 4 {
		return path.Course{}, false
	}
	for i := range c.Steps {
		c.Steps[i].Moment += t.first
	}
	return c, true
}

// begins is said while a stack of lines is not yet known well enough.
const begins = "something begins to hum"

// quiet says in words why nothing is heard.
func quiet(m []comb.Moment) string {
	power := 0.0
	for _, f := range m[max(0, len(m)-8):] {
		power = math.Max(power, f.Power)
	}
	switch {
	case power == 0:
		return "silence"
	case 10*math.Log10(2*power) < -70:
		return "very quiet"
	}
	return "no rotor stands out of the noise"
}
