package phase

import (
	"math"
	"slices"

	"rotorhum/tacho/internal/sound"
)

// Options bounds what is followed.
type Options struct {
	// Harmonics is the number of harmonics used at most.
	Harmonics int
	// Memory is the time over which the lines are taken to keep their
	// amplitudes and phases, in seconds.
	Memory float64
	// Pulses is the number of pulses of a turn if their pattern, which comes again
	// with every turn, is to be told from changes of speed; 0 for not.
	Pulses int
	// Told is the number of pulses of a turn if that is known, whether their pattern is
	// sought or not; 0 or 1 for not.
	Told int
	// Beside are the lines of others that sound at the same time: lines near them
	// have no say.
	Beside []*Stack
	// Disturbed says that something passes the lines, as a voice or an echo does:
	// where the amplitude of one shows that, it counts less.
	Disturbed bool
	// Progress, if not nil, is called with the share done, 0 to 1.
	Progress func(done float64)
}

// refined is the relative error of a course that has been improved already, and
// wants one pass less.
const refined = 0.002

// The course that is given is taken to be right to within this standard
// deviation, relative, anew every so many seconds.
// In the end it counts with givenHold times that.
const givenError, givenSeconds, givenHold = 0.004, 0.15, 4.0

// Follow improves a course. rough is the relative error to expect of it.
func Follow(src *sound.Source, c Course, rough float64, opt Options) (*Result, error) {
	if c.T[len(c.T)-1]-c.T[0] > longest {
		return followPieces(src, c, rough, opt)
	}
	return follow(src, c, rough, opt)
}

// The first pass looks at the lines over the first of these times, in seconds,
// in turn, a later one over nearMemory before that of the options.
var firstMemories = [...]float64{0.06, 0.12, 0.25}

const nearMemory = 0.25

// Blocks are of blockCycles cycles, and shortestBlock seconds at least; a course
// has fewestBlocks or more.
const blockCycles, shortestBlock, fewestBlocks = 4, 0.008, 5

// mostPasses bounds the passes that there are for the sake of waves.
const mostPasses = 6

// Lines take part while the phase that is to be expected of them, over their
// memory, is known to turnKnown of a turn.
const turnKnown = 0.2

// The intensities for a whole course, over the square of the rate, in 1/s^3.
const leastIntensity, mostIntensity = 1e-6, 1e3

// follower is a course that is being improved.
type follower struct {
	src     *sound.Source
	opt     Options
	given   Course
	now     Course    // as it is known
	rough   float64   // relative error to expect of it
	known   []float64 // the same, per block
	sharp   []float64 // and for what is heard along the motion in the end
	l       *locked
	prior   Prior // of the motion; without intensity
	scale   float64
	alone   float64 // how many times as intense the changes look if no pulse has a jitter
	kept    float64 // the share of the power of the lines that agrees among them, as measured last
	turn    *pattern
	flutter *flutter
	corner  *corner
	// from when to when the motion is steep, and is found between the blocks, too
	steep, between [][2]float64
	r              *Result
	kinks          []kink
	shift          []float64 // by how much the points were moved, as blocks smooth over kinks
}

// follow is Follow for a course of no great length.
func follow(src *sound.Source, c Course, rough float64, opt Options) (*Result, error) {
	passes := 3
	if rough <= refined {
		passes = 2
	}
	f := &follower{src: src, opt: opt, given: c, now: c, rough: rough}
	again := false // along a course that is known as well as it can be
	for pass := 0; pass < passes; pass++ {
		memories := firstMemories[:]
		if pass > 0 {
			memories = []float64{nearMemory, opt.Memory}
		}
		if again {
			memories = memories[1:]
		}
		if heard, err := f.hear(pass == 0); err != nil || !heard {
			return nil, err
		}
		still := false // the course no longer moves
		for k, memory := range memories {
			if err := f.measure(memory, pass > 0); err != nil {
				return nil, err
			}
			last := k == len(memories)-1
			if pass == 1 && last {
				if err := f.cornered(memory); err != nil {
					return nil, err
				}
			}
			final := (pass == passes-1 || still) && last
			if err := f.smooth(last, final); err != nil {
				return nil, err
			}
			if !f.credible() {
				return nil, nil // the phases are those of no stack of lines
			}
			lost := f.learn(final)
			if pass > 0 && k == 0 && !again {
				still = !lost && f.l.still(f.r.Motion, f.now)
			}
		}
		f.now = f.r.course(f.now)
		f.straighten()
		if still {
			passes = pass + 1
		}
		if pass == passes-1 && f.flutter.fresh() && passes < mostPasses {
			// what blocks let through of a wave depends on what the course knew of it
			passes++
		} else if pass == passes-1 && len(f.between) > 0 && !again {
			// blocks smooth over kinks of which the course they were cut along knew nothing
			again = true
			passes++
			f.sharp = make([]float64, len(f.known))
			for i := range f.sharp {
				f.sharp[i] = math.Min(f.known[i], f.r.around(i, f.opt.Memory))
			}
		}
		if opt.Progress != nil {
			opt.Progress(float64(pass+1) / float64(passes))
		}
	}
	f.r.finish(f.l, f.alone)
	return f.r, nil
}

// hear demodulates the lines along the course as it is known, and reports whether
// there is enough of it.
func (f *follower) hear(first bool) (heard bool, err error) {
	harmonics := max(1, min(f.opt.Harmonics, int(0.45*f.src.Rate/slices.Max(f.now.Rate))))
	blocks, err := Demodulate(f.src, f.now, harmonics, blockCycles, shortestBlock)
	if err != nil || len(blocks) < fewestBlocks {
		return false, err
	}
	if first {
		f.known = make([]float64, len(blocks))
		for i, b := range blocks {
			f.known[i] = math.Max(f.rough, f.now.Rounded(b.T))
		}
	} else {
		if f.sharp != nil {
			f.sharp = f.r.expected(blocks, f.sharp)
		}
		f.known = f.r.expected(blocks, f.known)
		if f.flutter != nil {
			for i := range f.flutter.waves {
				f.flutter.waves[i].along = true
			}
		}
		f.turn = newPattern(blocks, func(i int) float64 { return f.now.At(blocks[i].T) }, f.opt.Pulses)
	}
	f.l = newLocked(f.src, blocks, harmonics)
	f.corner.undo(f.l, func(i int) float64 { return f.now.At(blocks[i].T) })
	if err := f.l.measureNoise(harmonics); err != nil {
		return false, err
	}
	f.l.deafen(f.now, f.opt.Beside)
	if f.opt.Disturbed {
		f.l.disturb()
	}
	f.l.first, f.l.strong = f.l.standing(harmonics)
	start := Smooth{Phi: blocks[0].Phi, Omega: 2 * math.Pi * f.now.At(blocks[0].T)}
	f.prior = Prior{Start: start, SD: [3]float64{30, 0.3 * start.Omega, 4 * start.Omega}}
	f.scale = start.Omega * start.Omega
	f.r, f.alone = &Result{Blocks: blocks, jittered: 1}, 1
	return true, nil
}

// cleanShare is the share of the power of the lines in phase from which on nothing
// passes them but noise.
const cleanShare = 0.95

// measure finds the phases, from lines that are looked at over memory seconds, or
// over less while the course is known too badly for that, and widens their
// variances where the lines disagree.
func (f *follower) measure(memory float64, widen bool) (err error) {
	l, n := f.l, float64(len(f.l.blocks))
	mean, length := 0.0, 0.0
	for _, b := range l.blocks {
		mean += f.now.At(b.T) / n
		length += b.Length / n
	}
	// so few turns of the phase as let the lines that stand out take part,
	// but a few blocks, as one alone says nothing of its own phase
	least := math.Min(1.5*length, memory)
	memory = math.Max(math.Min(memory, turnKnown/(mean*f.rough*float64(l.strong))), least)
	for i, b := range l.blocks {
		// for how long the phase of the first harmonic is to be expected, and all that
		// stand out: where less is known they are worth more than a long memory
		expected := turnKnown / (f.now.At(b.T) * f.known[i])
		own := expected / float64(l.first)
		if f.kept > cleanShare {
			own = math.Max(expected/float64(l.strong), math.Min(firstMemories[1], own))
		}
		l.memory[i] = math.Max(math.Min(memory, own), 1.5*b.Length)
		if f.sharp != nil {
			expected = turnKnown / (f.now.At(b.T) * f.sharp[i])
		}
		l.used[i] = max(l.first, min(len(l.noise[0]), int(expected/l.memory[i])))
	}
	if f.r.Points, err = l.measure(); err != nil {
		return err
	}
	f.kept, _ = l.coherence(0, len(l.blocks))
	if widen {
		f.r.Inflation = l.widen(f.r.Points)
	}
	for i, b := range l.blocks {
		// the course as it was given is a measurement too: lines that the
		// motion has lost cannot call it back
		w := 2 * math.Pi * f.given.At(b.T)
		sd := math.Max(givenError, f.given.Rounded(b.T)) * w
		f.r.Points[i].Rate = w
		f.r.Points[i].RateVar = sd * sd * givenSeconds / (b.Length / 2)
	}
	return nil
}

// smooth finds the motion by the phases: with one intensity for the whole course,
// and in the end with one that varies. A flutter is looked for if seek is set.
func (f *follower) smooth(seek, final bool) (err error) {
	r, lo, hi, stopped := f.r, leastIntensity*f.scale, mostIntensity*f.scale, f.src.Stopped
	f.shift, r.moments, r.flutter, r.Swings = nil, nil, nil, nil
	if r.Q, err = Fit(r.Points, f.prior, lo, hi, stopped); err != nil {
		return err
	}
	shifted := r.Points
	if r.Points, r.Q, err = f.turn.steadied(shifted, f.prior, lo, hi, r.Q, stopped); err != nil {
		return err
	}
	q := r.Q
	if r.Points, r.Q, err = f.fluttered(r.Points, lo, hi, q, seek); err != nil {
		return err
	}
	heeded := q / r.Q
	if f.flutter != nil {
		shifted = f.flutter.without(loose(shifted))
	}
	variance, err := f.jitter(lo, hi)
	if err != nil {
		return err
	}
	if variance > 0 {
		shifted = f.jittered(shifted, variance)
		if r.Points, r.Q, err = f.turn.steadied(shifted, f.prior, lo, hi, r.Q, stopped); err != nil {
			return err
		}
	}
	r.prior = f.prior
	r.prior.Q = []float64{r.Q}
	if !final {
		r.Motion, r.Like = Run(r.Points, r.prior)
		f.alone *= heeded
		f.flutter.restore(r, f.now.T[0], f.now.T[len(f.now.T)-1])
		return nil
	}
	if f.kept < cleanShare {
		f.steep = nil
	} else if r.Motion != nil { // else it is known from the pass before
		f.steep = steepParts(r.Points, r.Motion)
	}
	bend, err := f.varying(lo, hi)
	if err != nil {
		return err
	}
	shifted = moved(shifted, f.shift)
	all, at, fine, err := f.finer(bend, lo, hi)
	if err != nil {
		return err
	}
	if f.turn != nil && f.turn.coef != nil {
		f.turn.fit(bend.without(shifted), r.prior)
		r.Points = f.turn.without(shifted)
	}
	// the given course has helped to find the intensities, but comes from the
	// same sound: no more than a hold where the phases are lost
	for i := range r.Points {
		r.Points[i].RateVar *= givenHold * givenHold
	}
	r.between(all, at, bend, fine)
	f.l.drift(r, f.flutter)
	f.corner.widen(r, f.l, f.flutter)
	r.Corner, r.CornerU = f.corner.found()
	f.turn.widen(r)
	r.widenBetween(func(i int) float64 { return math.Max(1, r.Motion[i].Wide) })
	f.flutter.restore(r, f.now.T[0], f.now.T[len(f.now.T)-1])
	f.alone *= heeded
	return nil
}

// credible reports whether the motion found can be one.
func (f *follower) credible() bool {
	return !slices.ContainsFunc(f.r.Motion, func(s Smooth) bool { return !(s.Omega > 0 && s.Omega < math.Pi*f.src.Rate) })
}

// learn takes the lines as turned by the motion found, and its errors as those to
// expect; but in the end lines are looked at no longer than up to then, as their
// strengths change with a rate that changes fast. It reports whether the lines are
// lost anywhere.
func (f *follower) learn(final bool) (lost bool) {
	for i, s := range f.r.Motion {
		f.l.theta[i] = s.Phi + f.turn.at(i) - f.flutter.hidden(i, f.l.blocks[i].T) - f.l.blocks[i].Phi
		if f.shift != nil {
			f.l.theta[i] -= f.shift[i]
		}
	}
	f.rough = math.Min(f.rough, 2*f.r.Spread()+2e-5)
	if final {
		return false
	}
	for i := range f.known {
		f.known[i] = math.Min(f.known[i], f.r.around(i, f.opt.Memory))
	}
	return f.l.lost(f.known)
}
