package phase

import (
	"math"
	"slices"
)

const (
	// cornerOdds are the odds beforehand that a high-pass has its corner among the lines or
	// near them, of any kind and anywhere there alike, and leastChance how likely one must
	// be in the end to be thought of.
	cornerOdds, leastChance = 0.05, 0.1
	// cornerLines is by how much likelier (nats) one must be than a room that gives each
	// line a way of its own, and roomless how many times their noise the variance of the
	// lines may be for one to be thought of that is no likelier.
	cornerLines, roomless = 3.0, 1.5
	// explains is the share that one must explain of what the lines disagree about beyond their
	// noise, but for byNoise standard deviations of that: clipping, say, turns them as the sound
	// grows with the rate, and not as a filter does, but a filter is nearer to that than none,
	// and explains seven tenths at most (of 60 recordings), a filter nine where there is one.
	explains, byNoise = 0.8, 3.0
	// fullSize is how near to its own size a filter's phase must be found.
	fullSize = 0.3
	// Corners are looked for from belowRate octaves below the lowest rate to aboveRate
	// above the highest, where all lines that can be heard lie below, firstCorners to an
	// octave and then twice as many.
	belowRate, aboveRate, firstCorners = 1.0, 4.0, 4.0
	// lateShare is the share of its standard uncertainty that a delay by onTheWay must
	// make in the rate somewhere to be looked for.
	lateShare = 0.2
)

// seekCorner looks for a high-pass in the phases of the lines, as they are turned by theta.
func (f *follower) seekCorner() (*corner, error) {
	if !f.lateMatters() {
		return nil, nil
	}
	s := f.l.see(func(i int) float64 { return f.r.Motion[i].Omega / (2 * math.Pi) })
	if s == nil {
		return nil, nil
	}
	lo := math.Log2(f.r.Slowest()/(2*math.Pi)) - belowRate
	hi := math.Log2(f.r.Fastest()/(2*math.Pi)) + aboveRate
	if odds, err := s.odds(lo, hi, f.src.Stopped); err != nil || odds < leastChance/(1-leastChance) {
		return nil, err
	}
	kinds, gains, err := s.corners(lo, hi, f.src.Stopped)
	if err != nil {
		return nil, err
	}
	return s.likeliest(kinds, gains, hi-lo), nil
}

// corners returns the likeliest corner of each kind between these, in octaves, and by how
// much likelier (nats) it makes the phases.
func (s *sights) corners(lo, hi float64, stopped func() error) (kinds []cornered, gains []float64, err error) {
	for _, h := range highPasses {
		best, most := lo, math.Inf(-1)
		try := func(c float64) {
			if g := s.gain(h, c); g > most {
				best, most = c, g
			}
		}
		for c := lo; c <= hi; c += 0.5 / firstCorners {
			try(c)
		}
		for step := 0.25 / firstCorners; step > 1e-3; step /= 2 {
			c := best
			try(c - step)
			try(c + step)
		}
		kinds, gains = append(kinds, cornered{highPass: h, hz: math.Exp2(best)}), append(gains, most)
		if err := stopped(); err != nil {
			return nil, nil, err
		}
	}
	return kinds, gains, nil
}

// likeliest returns the corner to take out of those of each kind, with the gain of each,
// that were looked for over so many octaves: the likeliest, or none with the others as what
// may be the case, or nil where none is worth a thought.
func (s *sights) likeliest(kinds []cornered, gains []float64, octaves float64) *corner {
	most := slices.Max(gains)
	top := slices.Index(gains, most)
	if excess := s.chi - s.dof(); 2*most < explains*excess-byNoise*math.Sqrt(2*s.dof()) {
		return nil
	}
	scale, lines := s.credible(kinds[top].highPass, math.Log2(kinds[top].hz), most)
	sum := 0.0
	for j := range kinds {
		// how sharp the best corner of each kind is
		const step = 0.02
		q, c := &kinds[j], math.Log2(kinds[j].hz)
		bend := (2*gains[j] - s.gain(q.highPass, c-step) - s.gain(q.highPass, c+step)) / (step * step)
		sd := math.Sqrt(scale / math.Max(bend, 1e-9)) // in octaves
		q.chance = math.Exp((gains[j]-most)/scale) * math.Min(1, math.Sqrt(2*math.Pi)*sd/octaves)
		q.sd = math.Min(1, sd) * math.Ln2
		sum += q.chance
	}
	// none at all may be the case as well
	none := math.Exp(-most/scale) * float64(len(kinds)) / cornerOdds
	for j := range kinds {
		kinds[j].chance /= sum + none
	}
	kinds = append(kinds, cornered{highPass: &highPass{}, hz: 1, chance: none / (sum + none)})
	switch {
	case none < sum && lines > cornerLines:
	case scale < roomless && sum > leastChance*(sum+none):
		top = len(kinds) - 1
	default:
		return nil
	}
	kinds[0], kinds[top] = kinds[top], kinds[0]
	return &corner{append(kinds[:1], slices.DeleteFunc(kinds[1:], func(q cornered) bool { return q.chance < 1e-3 })...)}
}

// odds returns about what the odds are that there is a high-pass with its corner between
// these, in octaves, by those kinds that stand for all.
func (s *sights) odds(lo, hi float64, stopped func() error) (odds float64, err error) {
	var gains []float64
	for j := range highPasses[:standFor] {
		if err := stopped(); err != nil {
			return 0, err
		}
		for c := lo; c <= hi; c += 1 / firstCorners {
			gains = append(gains, s.gain(highPasses[j], c))
		}
	}
	scale := s.scale(slices.Max(gains))
	for _, g := range gains {
		odds += math.Exp(math.Min(g/scale, 100)) / float64(len(gains))
	}
	return odds * cornerOdds, nil
}

// lateMatters reports whether a delay of the lines would be felt anywhere.
func (f *follower) lateMatters() bool {
	for _, m := range f.r.Motion {
		late := onTheWay / m.Omega * m.Alpha
		if late*late > lateShare*lateShare*m.OmegaVar {
			return true
		}
	}
	return false
}

// gain returns by how much likelier (nats) a high-pass with its corner at so many octaves
// makes the phases.
func (s *sights) gain(h *highPass, octave float64) float64 {
	along, size := 0.0, 0.0
	curve := h.curve()
	for i, v := range s.all {
		g := curve.at(v.octave - octave)
		s.g[i] = g
		along += v.w * s.y[i] * g
		size += v.w * g * g
	}
	s.sums(s.g)
	for k, a := range s.perSpan {
		if a != 0 {
			size -= a * a / s.spans[k]
		}
	}
	for j, x := range s.solved() {
		size -= x * s.perLine[j]
	}
	return along - size/2
}

// credible returns by how much the variances of the lines are larger than by their noise
// with a high-pass that makes them likelier by gain, and how much likelier it is (nats) than
// a room, 0 if it turns the lines by another size than it must. The phases of a line that a
// room gives it go on from span to span, so that each line counts as one witness: with few
// of them the probability is Student's.
func (s *sights) credible(h *highPass, octave, gain float64) (scale, lines float64) {
	g := s.g
	for i, v := range s.all {
		g[i] = h.phase(math.Exp2(v.octave - octave))
	}
	s.strip(g)
	top := slices.Max(s.orders)
	pull, info := make([]float64, top+1), make([]float64, top+1)
	along, size := 0.0, 0.0
	for i, v := range s.all {
		m := int(v.order)
		pull[m] += v.w * g[i] * (s.y[i] - g[i])
		info[m] += v.w * g[i] * g[i]
		along += v.w * s.y[i] * g[i]
		size += v.w * g[i] * g[i]
	}
	square, even := 0.0, 0.0
	for m, v := range pull {
		square += v * v
		even += info[m] * info[m]
	}
	others := size*size/even - 1
	if scale = s.scale(gain); !(others > 0) || math.Abs(along/size-1) > fullSize {
		return scale, 0
	}
	scale = math.Max(scale, square/size*(others+1)/others)
	return scale, others / 2 * math.Log1p(2*gain/(scale*others))
}
