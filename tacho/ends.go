package tacho

import (
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/floats"

	"rotorhum/tacho/internal/path"
	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// A thing with inertia does not fall silent within a tenth of a second while its
// speed holds; a note and a syllable do. Beyond either end of a stretch its
// lines are looked for where they would go on.
const (
	// endSeconds is how far beyond an end, and how far inside it, lines are
	// compared, endGap the part right at the end that is left out.
	endSeconds, endGap = 0.25, 0.03
	// leastCycles is the number of cycles beyond the gap that tell anything.
	leastCycles = 8
	// endSlope is the change of speed, in shares per second, from which on
	// nobody knows where the lines would have gone.
	endSlope = 1.5
	// boldest bounds what one line can say, in nats.
	boldest = 4.0
)

// extended goes on with a stretch beyond its ends, a step at a time, as long as
// its lines are there: frames may have followed something louder from there on.
// It returns the evidence that the stretch goes on beyond the ends it has then.
func (s *stretch) extended(src *sound.Source, opt Options) (long *stretch, ends [2]float64, err error) {
	opt.Progress = nil // nobody knows how far it goes
	turns := s.fit.Coherence >= keepsAlone && s.agility() < restless
	c, grown := s.course(1, src.Seconds()), false
	for i, sign := range [...]float64{-1, 1} {
		tail := s
		for range 60 {
			if ends[i], err = tail.goesOn(src, sign); err != nil {
				return nil, ends, err
			}
			var next *stretch
			at, _ := tail.last(sign)
			if ends[i] >= clearly {
				next, err = tail.onward(src, sign, opt)
			} else if turns && (ends[i] < -clearly || tail.steepAt(sign)) {
				next, at, err = tail.turned(src, sign, opt)
			}
			if err != nil {
				return nil, ends, err
			}
			if next == nil {
				break
			}
			far, _ := next.last(sign)
			if sign*(far-at) < 1e-3 {
				break
			}
			tail, grown = next, true
			c = tail.goneOn(c, sign, at)
		}
		if e := tail.nearEdge(src.Seconds(), sign); e != nil {
			// so near that nothing can be said of it
			edge := phase.Course{T: []float64{e.t}, Rate: []float64{e.rate}, Bend: []float64{e.bend}}
			if sign < 0 {
				c = joined(edge, c)
			} else {
				c = joined(c, edge)
			}
			grown = true
		}
	}
	if !grown {
		return s, ends, nil
	}
	if long, err = refineCourse(src, c, 0.002, opt); err != nil || long == nil {
		return s, ends, err
	}
	return long, ends, nil
}

// goneOn returns the course c up to a moment, and from there on as the stretch has it;
// backwards in time if sign is -1.
func (s *stretch) goneOn(c phase.Course, sign, at float64) phase.Course {
	var kept, far phase.Course
	for k, t := range c.T {
		if sign*(t-at) <= 0 {
			kept.Add(t, c.Rate[k], c.Bend[k])
		}
	}
	for k, b := range s.fit.Blocks {
		if m := s.fit.Motion[k]; sign*(b.T-at) > 1e-3 {
			far.Add(b.T, m.Omega/(2*math.Pi), math.Sqrt(m.OmegaVar)/m.Omega)
		}
	}
	if sign < 0 {
		return joined(far, kept)
	}
	return joined(kept, far)
}

// joined returns the course b behind the course a.
func joined(a, b phase.Course) phase.Course {
	for k, t := range b.T {
		if n := len(a.T); n == 0 || t > a.T[n-1]+1e-3 {
			a.Add(t, b.Rate[k], b.Bend[k])
		}
	}
	return a
}

// last returns the last moment of the stretch, or the first if sign is -1, and its place
// among the blocks.
func (s *stretch) last(sign float64) (t float64, k int) {
	b := s.fit.Blocks
	if sign > 0 {
		k = len(b) - 1
	}
	return b[k].T, k
}

// onward follows the last part of a stretch one step beyond its end (or the first
// beyond its start). It returns nil where that leads nowhere.
func (s *stretch) onward(src *sound.Source, sign float64, opt Options) (*stretch, error) {
	b, m := s.fit.Blocks, s.fit.Motion
	k := 0
	if sign > 0 {
		k = len(b) - 1
	}
	rate, slope := m[k].Omega/(2*math.Pi), m[k].Alpha/(2*math.Pi)
	far := b[k].T + sign*(b[k].Length/2+endGap+math.Max(endSeconds, 16/rate))
	far = math.Max(0, math.Min(far, src.Seconds()-1/src.Rate))
	from, to := s.times()
	near := math.Max(from, math.Min(to, b[k].T-sign*math.Max(0.6, 24/rate)))
	var c phase.Course
	const knots = 40
	lo, hi := math.Min(near, far), math.Max(near, far)
	for i := 0; i <= knots; i++ {
		t := lo + (hi-lo)*float64(i)/knots
		f := rate + slope*(t-b[k].T)
		if sign*(t-b[k].T) <= 0 {
			f, _, _ = s.at(t)
		}
		c.T, c.Rate = append(c.T, t), append(c.Rate, math.Max(0.3*rate, f))
	}
	n, err := refineCourse(src, c, 0.002, opt)
	if err != nil || n == nil {
		return nil, err
	}
	// where it overlaps it must be the same motion
	at := b[k].T - sign*0.1
	if _, end := n.times(); at > end {
		return nil, nil
	}
	x, _, _ := n.at(at)
	y, _, _ := s.at(at)
	if math.Abs(x/y-1) > 0.01 || n.agility() > 3*math.Max(1, s.agility()) {
		return nil, nil
	}
	return n, nil
}

// blockAfter returns the first of the blocks in order of time that lies at t or
// after it.
func blockAfter(b []phase.Block, t float64) int {
	return sort.Search(len(b), func(i int) bool { return b[i].T >= t })
}

// clearly is the evidence, in nats, from which on a stretch is taken to go on.
const clearly = 3.0

// steepAt reports whether nobody knows where the lines would have gone beyond the end of
// the stretch, or before its start.
func (s *stretch) steepAt(sign float64) bool {
	return s.slopeBeyond(sign) > endSlope
}

// slopeBeyond returns how steeply the stretch leaves its end, or comes to its start, in
// shares of its rate per second.
func (s *stretch) slopeBeyond(sign float64) float64 {
	_, k := s.last(sign)
	m := s.fit.Motion[k]
	return math.Abs(m.Alpha) / m.Omega
}

// goesOn returns the evidence, in nats, that the lines of a stretch go on beyond
// its end (sign 1) or were there before its start (sign -1), against their
// stopping there; 0 where nothing can be said.
func (s *stretch) goesOn(src *sound.Source, sign float64) (float64, error) {
	b, m := s.fit.Blocks, s.fit.Motion
	k := 0
	if sign > 0 {
		k = len(b) - 1
	}
	edge, rate, slope := b[k].T+sign*b[k].Length/2, m[k].Omega/(2*math.Pi), m[k].Alpha/(2*math.Pi)
	if s.steepAt(sign) {
		return 0, nil
	}
	// at least six blocks of four cycles on either side
	reach := math.Max(endSeconds, 16/rate)
	limit := src.Seconds() - 1/src.Rate
	out := edge + sign*(endGap+reach)
	if out < 0 || out > limit {
		out = math.Max(0, math.Min(limit, out))
	}
	in := edge - sign*(endGap+reach)
	in = math.Max(0, math.Min(limit, in))
	if math.Abs(out-edge) < endGap+leastCycles/rate || math.Abs(edge-in) < endGap+leastCycles/rate {
		return 0, nil
	}
	var c phase.Course
	lo, hi := math.Min(in, out), math.Max(in, out)
	const knots = 40
	for i := 0; i <= knots; i++ {
		t := lo + (hi-lo)*float64(i)/knots
		f := 0.0
		if sign*(t-b[k].T) > 0 {
			f = math.Max(0.3*rate, rate+slope*(t-b[k].T))
		} else {
			f, _, _ = s.at(t)
		}
		c.T, c.Rate = append(c.T, t), append(c.Rate, f)
	}
	harmonics := max(1, min(lineHarmonics, int(0.45*src.Rate/(1.5*rate))))
	blocks, err := phase.Demodulate(src, c, harmonics, 4, 0.008)
	if err != nil {
		return 0, err
	}
	return linesBeyond(blocks, edge, sign, harmonics, 3, endGap, boldest, s.usualNear(edge, sign, reach)), nil
}

// usualNear returns what share of the power that each line has within reach seconds of an
// end of the stretch it has for most of the time around, at most all of it: what a voice
// adds there is no more missed beyond the end than it was heard. Lines that are not there
// for most of the time, as those of a knock that rings, are missed in full. It is nil where
// only mean strengths are kept.
func (s *stretch) usualNear(edge, sign, reach float64) []float64 {
	if slices.ContainsFunc(s.fit.Blocks, func(b phase.Block) bool { return b.Y == nil }) {
		return nil
	}
	sums := s.sumLines()
	near := sums.mean(math.Min(edge, edge-sign*(endGap+reach)), math.Max(edge, edge-sign*(endGap+reach)))
	if near == nil {
		return nil
	}
	const there = 0.5 // of the noise: what noise alone has at usualRank lies below it
	_, k := s.last(sign)
	share := make([]float64, sums.lines)
	for m, usual := range sums.usual(k) {
		share[m] = 1
		if usual > there*near.noise[m] && usual < near.excess[m] {
			share[m] = usual / near.excess[m]
		}
	}
	return share
}

// heardToEdges reports whether the lines of a stretch may be there before the first and
// after the last step of the course that it was found by, where it was taken on to an
// edge of the recording.
func (s *stretch) heardToEdges(c path.Course) (heard [2]bool) {
	b := s.fit.Blocks
	for i, sign := range [...]float64{-1, 1} {
		step := c.Steps[0]
		if sign > 0 {
			step = c.Steps[len(c.Steps)-1]
		}
		edge := float64(step.Moment) * frameHop
		reach := endGap + math.Max(endSeconds, 16/step.State.Rate)
		near := b[blockAfter(b, edge-reach):blockAfter(b, edge+reach)]
		heard[i] = len(near) == 0 || near[0].Y == nil || stillThere(near, edge, sign, len(near[0].Y[0])/2) >= 0
	}
	return heard
}

// stillThere weighs the power of the lines beyond the edge against that inside it.
func stillThere(blocks []phase.Block, edge, sign float64, harmonics int) float64 {
	return linesBeyond(blocks, edge, sign, harmonics, 3, endGap, boldest, nil)
}

// linesBeyond is stillThere by so few blocks on either side as fewest, where gap seconds
// at the edge are left out, and one line can say no more than most, in nats. Of the power
// that each line has inside only a share is expected beyond, where shares are given.
func linesBeyond(blocks []phase.Block, edge, sign float64, harmonics, fewest int, gap, most float64, share []float64) float64 {
	type side struct{ line, noise, n float64 }
	var terms [][3]float64 // power beyond, noise beyond, power expected, in units of looks
	looks := 0.0
	var loud [2]float64
	for c := range blocks[0].Y {
		for m := 1; m <= harmonics; m++ {
			var s [2]side
			for _, b := range blocks {
				d := sign * (b.T - edge)
				if math.Abs(d) < gap+b.Length/2 {
					continue
				}
				w := &s[0]
				if d > 0 {
					w = &s[1]
				}
				p := func(h int) float64 {
					v := b.Y[c][h-1]
					return real(v)*real(v) + imag(v)*imag(v)
				}
				w.line += p(2 * m)
				w.noise += (p(2*m-1) + p(2*m+1)) / 2
				w.n++
			}
			if least := float64(fewest); s[0].n < least || s[1].n < least {
				return 0
			}
			// neighbouring blocks overlap by half
			looks = 0.75 * s[1].n
			excess := s[0].line/s[0].n - s[0].noise/s[0].n
			if m <= len(share) {
				excess *= share[m-1]
			}
			noise := s[1].noise / s[1].n
			loud[0] += s[0].noise / s[0].n
			loud[1] += noise
			if excess > 2*s[0].noise/s[0].n {
				terms = append(terms, [3]float64{s[1].line / s[1].n, noise, excess})
			}
		}
	}
	if loud[1] < 1e-5*loud[0] { // a gap in the recording
		return 0
	}
	// how loud it goes on is not known, but for some 6 dB either way
	var likes []float64
	for g := 0.25; g < 3; g *= math.Sqrt2 {
		like := 0.0
		for _, t := range terms {
			on := t[1] + g*t[2]
			v := looks * (math.Log(t[1]/on) + t[0]/t[1] - t[0]/on)
			like += math.Max(-most, math.Min(most, v))
		}
		likes = append(likes, like)
	}
	return floats.LogSumExp(likes) - math.Log(float64(len(likes)))
}
