package phase

import (
	"math"
	"sort"

	"rotorhum/tacho/internal/sound"
)

// A course of more than longest seconds is followed in pieces, so that memory
// does not grow with all that is demodulated. The pieces overlap; in the middle
// of an overlap one gives over to the next. What is known of the lines is then
// kept as its mean over summarySeconds.
const (
	longest        = 150.0
	pieceSeconds   = 60.0
	overlapSeconds = 3.0
	summarySeconds = 0.25
	// compactSeconds is the length from which on a course is kept compact.
	compactSeconds = 600.0
)

// followPieces is Follow for a long course.
func followPieces(src *sound.Source, c Course, rough float64, opt Options) (*Result, error) {
	from, to := c.T[0], c.T[len(c.T)-1]
	n := int(math.Ceil((to - from) / pieceSeconds))
	var whole *Result
	for k := range n {
		a := from + (to-from)*float64(k)/float64(n)
		b := from + (to-from)*float64(k+1)/float64(n)
		part := opt
		if opt.Progress != nil {
			part.Progress = func(done float64) { opt.Progress((float64(k) + done) / float64(n)) }
		}
		r, err := follow(src, c.between(a-overlapSeconds/2, b+overlapSeconds/2), rough, part)
		if err != nil || r == nil {
			return nil, err
		}
		r.summarise()
		if to-from > compactSeconds {
			r.Compact()
		}
		if whole == nil {
			whole = r
			continue
		}
		whole.join(r, a)
	}
	whole.steadily()
	return whole, nil
}

// between returns the part of a course from a to b.
func (c Course) between(a, b float64) Course {
	a, b = math.Max(a, c.T[0]), math.Min(b, c.T[len(c.T)-1])
	i := sort.Search(len(c.T), func(i int) bool { return c.T[i] > a })
	j := sort.Search(len(c.T), func(i int) bool { return c.T[i] >= b })
	var p Course
	p.Add(a, c.At(a), c.Rounded(a))
	for k := i; k < j; k++ {
		p.Add(c.T[k], c.Rate[k], c.Rounded(c.T[k]))
	}
	p.Add(b, c.At(b), c.Rounded(b))
	return p
}

// summary is the mean strength of the lines over a while.
type summary struct {
	from     float64
	channels float64
	lines    []struct{ amp2, noise2, clear float32 }
}

// Strength is what is known of a line, the mean of all channels: the square of
// its amplitude and of that of the noise around it, and its power above the noise
// over the noise. Channels is their number.
type Strength struct{ Amp2, Noise2, Clear, Channels float64 }

// Strength returns the strength of harmonic m, 0 is the first, at block i.
func (r *Result) Strength(i, m int) Strength {
	b := r.Blocks[i]
	if b.Y == nil {
		k := sort.Search(len(r.summaries), func(k int) bool { return r.summaries[k].from > b.T })
		s := r.summaries[max(0, k-1)]
		v := s.lines[m]
		return Strength{float64(v.amp2), float64(v.noise2), float64(v.clear), s.channels}
	}
	s := Strength{Channels: float64(len(b.Y))}
	scale := 4 / (b.Sum * b.Sum * s.Channels)
	for c := range b.Y {
		v := b.Y[c][2*m+1]
		noise := r.noise[c][m][i]
		q := real(v)*real(v) + imag(v)*imag(v) - noise
		s.Amp2 += scale * q
		s.Noise2 += scale * noise
		s.Clear += q / noise / s.Channels
	}
	return s
}

// summarise keeps of the lines only their mean strengths.
func (r *Result) summarise() {
	r.moments = nil
	for i := 0; i < len(r.Blocks); {
		s := summary{from: r.Blocks[i].T, channels: float64(len(r.Blocks[i].Y)), lines: make([]struct{ amp2, noise2, clear float32 }, len(r.Lines))}
		j := i
		for j < len(r.Blocks) && r.Blocks[j].T < s.from+summarySeconds {
			j++
		}
		share := 1 / float64(j-i)
		for m := range s.lines {
			var mean Strength
			for k := i; k < j; k++ {
				v := r.Strength(k, m)
				mean.Amp2 += share * v.Amp2
				mean.Noise2 += share * v.Noise2
				mean.Clear += share * v.Clear
			}
			l := &s.lines[m]
			l.amp2, l.noise2, l.clear = float32(mean.Amp2), float32(mean.Noise2), float32(mean.Clear)
		}
		r.summaries = append(r.summaries, s)
		i = j
	}
	for i := range r.Blocks {
		r.Blocks[i].Y = nil
	}
	r.noise = nil
}

// join adds a result that overlaps with this one's end, from time at on.
func (r *Result) join(next *Result, at float64) {
	// each counts phases from its own start: by how much more the next one does
	sum, n := 0.0, 0.0
	for i, b := range next.Blocks {
		if phi, ok := r.phase(b.T); ok && math.Abs(b.T-at) < overlapSeconds/3 {
			sum += phi - next.Motion[i].Phi
			n++
		}
	}
	i := sort.Search(len(r.Blocks), func(i int) bool { return r.Blocks[i].T >= at })
	j := sort.Search(len(next.Blocks), func(j int) bool { return next.Blocks[j].T >= at })
	more := sum / math.Max(1, n)
	for k := j; k < len(next.Blocks); k++ {
		next.Blocks[k].Phi += more
		next.Motion[k].Phi += more
		next.Points[k].Phi += more
	}
	mine, its := float64(i), float64(len(next.Blocks)-j)
	q := append(r.prior.each(i), next.prior.each(len(next.Blocks))[j:]...)
	r.prior.Q = q
	r.Blocks = append(r.Blocks[:i], next.Blocks[j:]...)
	r.Motion = append(r.Motion[:i], next.Motion[j:]...)
	r.Points = append(r.Points[:i], next.Points[j:]...)
	r.SNR = append(r.SNR[:i], next.SNR[j:]...)
	mix := func(a, b float64) float64 { return (a*mine + b*its) / (mine + its) }
	r.Swings, r.Corner, r.CornerU = nil, 0, 0 // each piece has its own
	r.Jitter, r.jittered = mix(r.Jitter, next.Jitter), mix(r.jittered, next.jittered)
	r.Inflation, r.Coherence = mix(r.Inflation, next.Inflation), mix(r.Coherence, next.Coherence)
	r.Clear = mix(r.Clear, next.Clear)
	r.to = next.to
	r.Q = math.Exp(mix(math.Log(r.Q), math.Log(next.Q)))
	r.Lines = r.Lines[:min(len(r.Lines), len(next.Lines))]
	for m := range r.Lines {
		r.Lines[m] = mix(r.Lines[m], next.Lines[m])
	}
	for k, s := range next.summaries {
		if s.from >= at || k+1 < len(next.summaries) && next.summaries[k+1].from > at {
			r.summaries = append(r.summaries, s)
		}
	}
}

// phase returns the phase of the motion at t, if t lies within.
func (r *Result) phase(t float64) (phi float64, ok bool) {
	i := sort.Search(len(r.Blocks), func(i int) bool { return r.Blocks[i].T >= t })
	if i == 0 || i == len(r.Blocks) {
		return 0, false
	}
	return r.motionAt(t).Phi, true
}

// each returns the intensity for the step to each of n points.
func (r Prior) each(n int) []float64 {
	q := make([]float64, n)
	for i := range q {
		q[i] = r.q(i)
	}
	return q
}

// steadily finds the likelihoods of the motion found and of a steady one.
func (r *Result) steadily() {
	r.Like = likeOf(unwaved(r.Points), r.prior)
	r.LikeSteady = likeOf(r.Points, r.prior.steady())
}

// likeOf returns the likelihood that Run finds.
func likeOf(p []Point, prior Prior) float64 {
	p, prior = inUnits(p, prior, timeUnit(p))
	b := prior.belief()
	return b.takeIn(looks(p, prior), prior.Q)
}

// steady returns the prior of a motion whose rate stays the same.
func (r Prior) steady() Prior {
	r.Q, r.SD[2] = []float64{0}, 1e-9
	return r
}
