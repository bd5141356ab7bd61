package tacho

import (
	"math"
	"sort"

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
	var before, after phase.Course
	var edges [2]*knot // where a recording's edge is so near that nothing can be said of it
	for i, sign := range [...]float64{-1, 1} {
		tail := s
		for range 60 {
			if ends[i], err = tail.goesOn(src, sign); err != nil {
				return nil, ends, err
			}
			if ends[i] < clearly {
				break
			}
			next, err := tail.onward(src, sign, opt)
			if err != nil {
				return nil, ends, err
			}
			if next == nil {
				break
			}
			tail = next
			b, m := tail.fit.Blocks, tail.fit.Motion
			side := &before
			if sign > 0 {
				side = &after
			}
			edge, end := s.times()
			if sign > 0 {
				edge = end
				if k := len(side.T); k > 0 {
					edge = side.T[k-1]
				}
			} else if len(side.T) > 0 {
				edge = side.T[0]
			}
			var far phase.Course
			for k := range b {
				if sign*(b[k].T-edge) > 1e-3 {
					far.Add(b[k].T, m[k].Omega/(2*math.Pi), math.Sqrt(m[k].OmegaVar)/m[k].Omega)
				}
			}
			if len(far.T) == 0 {
				break
			}
			if sign > 0 {
				*side = joined(*side, far)
			} else {
				*side = joined(far, *side)
			}
		}
		edges[i] = tail.nearEdge(src.Seconds(), sign)
	}
	if len(before.T)+len(after.T) == 0 && edges[0] == nil && edges[1] == nil {
		return s, ends, nil
	}
	var c phase.Course
	add := func(t, r, bend float64) {
		if k := len(c.T); k == 0 || t > c.T[k-1]+1e-3 {
			c.Add(t, r, bend)
		}
	}
	if e := edges[0]; e != nil {
		c.Add(e.t, e.rate, e.bend)
	}
	own := s.course(1, src.Seconds())
	first, end := s.times()
	for k, t := range before.T {
		add(t, before.Rate[k], before.Bend[k])
	}
	for k, t := range own.T {
		if (len(before.T) == 0 || t >= first) && (len(after.T) == 0 || t <= end) {
			add(t, own.Rate[k], own.Bend[k])
		}
	}
	for k, t := range after.T {
		add(t, after.Rate[k], after.Bend[k])
	}
	if e := edges[1]; e != nil {
		add(e.t, e.rate, e.bend)
	}
	if long, err = refineCourse(src, c, 0.002, opt); err != nil || long == nil {
		return s, ends, err
	}
	return long, ends, nil
}

// joined returns the course b behind the course a.
func joined(a, b phase.Course) phase.Course {
	for k, t := range b.T {
		a.Add(t, b.Rate[k], b.Bend[k])
	}
	return a
}

// knot is a rate, in hertz, at a moment, and the relative error to expect of it.
type knot struct{ t, rate, bend float64 }

// nearEdge returns where the stretch would be at the edge of the recording beyond
// one of its ends, if that is too near for lines to be looked for there, but not so
// near that the stretch is taken to it anyway; else nil.
func (s *stretch) nearEdge(seconds, sign float64) *knot {
	b, m := s.fit.Blocks, s.fit.Motion
	from, to := s.reach(seconds)
	k, edge, there := 0, 0.0, from == 0
	if sign > 0 {
		k, edge, there = len(b)-1, seconds, to == seconds
	}
	rate, slope := m[k].Omega/(2*math.Pi), m[k].Alpha/(2*math.Pi)
	gap := math.Abs(edge-b[k].T) - b[k].Length/2
	if there || gap > endGap+leastCycles/rate || math.Abs(slope) > endSlope*rate {
		return nil
	}
	way := slope * (edge - b[k].T)
	return &knot{edge, rate + way, straight * math.Abs(way) / rate}
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
	if math.Abs(slope) > endSlope*rate {
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
	return stillThere(blocks, edge, sign, harmonics), nil
}

// stillThere weighs the power of the lines beyond the edge against that inside it.
func stillThere(blocks []phase.Block, edge, sign float64, harmonics int) float64 {
	type side struct{ line, noise, n float64 }
	var terms [][3]float64 // power beyond, noise beyond, power expected, in units of looks
	looks := 0.0
	var loud [2]float64
	for c := range blocks[0].Y {
		for m := 1; m <= harmonics; m++ {
			var s [2]side
			for _, b := range blocks {
				d := sign * (b.T - edge)
				if math.Abs(d) < endGap+b.Length/2 {
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
			if s[0].n < 3 || s[1].n < 3 {
				return 0
			}
			// neighbouring blocks overlap by half
			looks = 0.75 * s[1].n
			excess := s[0].line/s[0].n - s[0].noise/s[0].n
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
	sum, n := 0.0, 0.0
	for g := 0.25; g < 3; g *= math.Sqrt2 {
		like := 0.0
		for _, t := range terms {
			on := t[1] + g*t[2]
			v := looks * (math.Log(t[1]/on) + t[0]/t[1] - t[0]/on)
			like += math.Max(-boldest, math.Min(boldest, v))
		}
		sum += math.Exp(like)
		n++
	}
	return math.Log(sum / n)
}
