package tacho

import (
	"math"
	"sort"

	"rotorhum/tacho/internal/path"
	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// stretch is one uninterrupted course of a rotor, refined.
type stretch struct {
	fit *phase.Result
	// pulses is the number of pulses a turn whose pattern was taken out, 0 for none.
	pulses int
	// evidence is what the frames say for it, in nats.
	evidence float64
	// unequal says that lines between those of the pulses, or a motion that comes again
	// with every turn, show blades that differ.
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
	// nats are these odds without caution, and piece says that the stretch is one of
	// several that are a rotor's together.
	nats  float64
	piece bool
	// still is the share of its time for which its rate holds, went how it went on
	// when that was looked at.
	still float64
	went  continuity
	// others are the softer rotors that sound at the same time, as alternatives,
	// and softer the stretches of those with a motion of their own.
	others []Alternative
	softer []*stretch
	// alone is the sound without what sounds beside the stretch, nil where nothing
	// does, beside the lines that were taken out of it, and partner what was followed
	// in what this one leaves.
	alone   *sound.Source
	beside  []*phase.Stack
	partner *stretch
	// amid says that something else sounds there: what was refused, or what the stretch
	// does not explain. amidNotes is how many notes were refused.
	amid      bool
	amidNotes int
	// passed says that voices pass its lines, which count less where they show that.
	passed bool
}

// as takes over what is known of the stretch s of the same sound.
func (n *stretch) as(s *stretch) *stretch {
	n.evidence, n.found, n.rotor, n.still, n.others = s.evidence, s.found, s.rotor, s.still, s.others
	n.softer, n.alone, n.beside, n.partner, n.amid, n.amidNotes = s.softer, s.alone, s.beside, s.partner, s.amid, s.amidNotes
	n.nats, n.piece = s.nats, s.piece
	return n
}

// inTime sorts stretches by their beginnings.
func inTime(in []*stretch) {
	sort.SliceStable(in, func(i, j int) bool {
		a, _ := in[i].times()
		b, _ := in[j].times()
		return a < b
	})
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

// after returns the first block not before t, but the second at least and the last at
// most: t lies between it and the one before it, or nearest to them.
func (s *stretch) after(t float64) int {
	b := s.fit.Blocks
	i := sort.Search(len(b), func(i int) bool { return b[i].T >= t })
	return min(max(i, 1), len(b)-1)
}

// at returns the rate (Hz) at time t inside the stretch, its standard
// uncertainty and the signal-to-noise ratio.
func (s *stretch) at(t float64) (hz, u, snr float64) {
	b, i := s.fit.Blocks, s.after(t)
	f := math.Max(0, math.Min(1, (t-b[i-1].T)/(b[i].T-b[i-1].T)))
	snr = (1-f)*s.fit.SNR[i-1] + f*s.fit.SNR[i]
	before, after := s.fit.Around(t)
	if t < before.T || t > after.T {
		e, k := before, 0
		if t > after.T {
			e, k = after, len(b)-1
		}
		omega, u := s.beyond(e.Smooth, s.fit.QAt(k), t-e.T)
		return omega / (2 * math.Pi), u / (2 * math.Pi), snr
	}
	h := after.T - before.T
	f = (t - before.T) / h
	omega := hermite(f, before.Omega, after.Omega, h*before.Alpha, h*after.Alpha)
	v := (1-f)*before.OmegaVar + f*after.OmegaVar
	return omega / (2 * math.Pi), math.Sqrt(v) / (2 * math.Pi), snr
}

// calm returns what share of the standard uncertainty of the rate at time t is left
// without changes too fast to be heard, once the fit has been asked for it.
func (s *stretch) calm(t float64) float64 {
	i := s.after(t)
	a, b := s.fit.Motion[i-1], s.fit.Motion[i]
	if !(a.CalmVar > 0 && b.CalmVar > 0) {
		return 1
	}
	return math.Sqrt((a.CalmVar + b.CalmVar) / (a.OmegaVar + b.OmegaVar))
}

// late returns by how much the rate at time t may be another, in hertz, for a hall that
// makes the motion late, as a standard uncertainty.
func (s *stretch) late(t float64) float64 {
	i := s.after(t)
	a, b := s.fit.Motion[i-1], s.fit.Motion[i]
	return math.Abs(a.Alpha+b.Alpha) / 2 * math.Max(a.Late, b.Late) / (2 * math.Pi)
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
	a, b := s.fit.Around(t)
	h := b.T - a.T
	switch f := (t - a.T) / h; {
	case f < 0:
		return (a.Phi + a.Omega*(t-a.T)) / (2 * math.Pi)
	case f > 1:
		return (b.Phi + b.Omega*(t-b.T)) / (2 * math.Pi)
	default:
		return hermite(f, a.Phi, b.Phi, h*a.Omega, h*b.Omega) / (2 * math.Pi)
	}
}

// course returns the stretch as knots, its rate times ratio, with half a block
// more on either side, so that blocks cover it to its ends again, and to the very
// ends of a recording of the given length where it runs into them.
func (s *stretch) course(ratio, seconds float64) phase.Course {
	var c phase.Course
	b, m := s.fit.Blocks, s.fit.Moments()
	knot := func(k int, t, omega float64) {
		c.Add(t, ratio*omega/(2*math.Pi), math.Sqrt(m[k].OmegaVar)/m[k].Omega)
	}
	carry := func(k int, t float64) {
		if w := m[k].Omega + m[k].Alpha*(t-m[k].T); t >= 0 && w > 0.5*m[k].Omega && w < 2*m[k].Omega {
			knot(k, t, w)
		}
	}
	from, to := s.reach(seconds)
	first, end := b[0], b[len(b)-1]
	if t := math.Min(from, first.T-math.Min(first.Length/2, first.T)); t < m[0].T-1e-6 {
		carry(0, t)
	}
	for i := range m {
		knot(i, m[i].T, m[i].Omega)
	}
	if t := math.Max(to, end.T+end.Length/2); t > m[len(m)-1].T+1e-6 {
		carry(len(m)-1, t)
	}
	return c
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
	how := phase.Options{Pulses: pulses, Told: opt.Pulses, Beside: beside, Progress: opt.Progress}
	if opt.passed {
		how.Disturbed, how.Memory = true, disturbedMemory
	}
	return followed(src, c, rough, how)
}

// followed follows the phase of a course with the lines of all stretches, and with
// their memory unless another is asked for.
func followed(src *sound.Source, c phase.Course, rough float64, opt phase.Options) (*stretch, error) {
	opt.Harmonics = lineHarmonics
	if opt.Memory == 0 {
		opt.Memory = lineMemory
	}
	r, err := phase.Follow(src, c, rough, opt)
	if err != nil || r == nil {
		return nil, err
	}
	if src.Seconds() > wholeSeconds {
		r.Compact()
	}
	return &stretch{fit: r, pulses: opt.Pulses, passed: opt.Disturbed}, nil
}

// again follows a stretch anew at the given ratio to its rate, with the pattern of so
// many pulses a turn, 0 for none, in the sound in which it was followed. It returns
// nil where that leaves too little.
func (s *stretch) again(src *sound.Source, ratio float64, pulses int, opt Options) (*stretch, error) {
	opt.passed = s.passed
	n, err := refineBeside(s.in(src), s.course(ratio, src.Seconds()), pulses, 0.002, s.beside, opt)
	if err != nil || n == nil {
		return nil, err
	}
	return n.as(s), nil
}
