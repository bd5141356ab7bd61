package phase

import (
	"math"

	"rotorhum/tacho/internal/rank"
)

// Single pulses come a little early or late, each on its own, as those of a card that
// flaps on spokes do, and that is no change of speed. All lines tell of it alike, so that
// they do not disagree about it, and it is no noise between them of which each has its own:
// a jitter of the pulses adds to the variance of the phase of every block what it leaves in
// the mean of its pulses, and no more than one phase is known however many lines there are.

const (
	// A jitter is looked for where the third differences of the phases scatter by
	// jitterSeen times what their variances make of them, in the median of the squares, as
	// pushes and kinks are brief. It must make the phases likelier by jitterGain nats.
	jitterSeen, jitterGain = 1.3, 3.0
	// jitterTries variances are tried, the largest first, each jitterStep times the last,
	// since a restless motion adds to the third differences, too.
	jitterTries, jitterStep = 6, 0.5
	// medianSquare is the median of the square of a standard normal deviate, and
	// overHann by how much the variance of a mean with the weights of a Hann window exceeds
	// that of a plain one. Blocks that overlap by half share noise: sharedNoise in the long
	// run.
	medianSquare, overHann, sharedNoise = 0.4549, 1.5, 4.0 / 3
)

// jitter finds the variance of the jitter of single pulses, and the one intensity that then
// explains the points, between lo and hi; 0, and the intensity as it is, where none shows,
// or where lines are passed by more than noise: an echo or a voice moves them for longer
// than from one block to the next.
func (f *follower) jitter(lo, hi float64) (variance float64, err error) {
	r := f.r
	f.alone, r.Jitter, r.jittered = 1, 0, 1
	if f.kept < cleanShare {
		return 0, nil
	}
	most := thirds(r.Points, r.Blocks, f.byPulse())
	if most == 0 {
		return 0, nil
	}
	prior, q := f.prior, r.Q
	prior.Q = []float64{q}
	best := likeOf(r.Points, prior) + jitterGain
	for range jitterTries {
		// the likelihood takes blocks next to each other for independent, and sees how far
		// single ones scatter
		with := f.jittered(r.Points, most/sharedNoise)
		if prior.Q[0], err = Fit(with, f.prior, lo, hi, f.src.Stopped); err != nil {
			return 0, err
		}
		if like := likeOf(with, prior); like > best {
			best, variance = like, most
		}
		most *= jitterStep
	}
	if variance == 0 {
		return 0, nil
	}
	with := f.jittered(r.Points, variance)
	if prior.Q[0], err = Fit(with, f.prior, lo, hi, f.src.Stopped); err != nil {
		return 0, err
	}
	if motion, _ := Run(with, prior); swings(with, motion) {
		return 0, nil
	}
	r.Q = prior.Q[0]
	f.alone, r.Jitter = q/r.Q, math.Sqrt(variance)/(2*math.Pi)
	r.jittered = told(r.Points) / told(with)
	return variance, nil
}

// swingByChance is how likely it must be that chance makes one oscillation as large.
const swingByChance = 1e-3

// swings reports whether one oscillation makes up more of what the points are off a motion
// than chance would: a flutter too fast to be told, and no jitter.
func swings(p []Point, motion []Smooth) bool {
	off := make([]float64, len(p)&^1)
	for i := range off {
		if !math.IsInf(p[i].Var, 1) {
			off[i] = (p[i].Phi - motion[i].Phi) / math.Sqrt(p[i].Var)
		}
	}
	_, chance := strongest(powers(off), 1, len(off))
	return chance < math.Log(swingByChance)
}

// told returns what points tell of a phase that all have in common.
func told(p []Point) (sum float64) {
	for _, q := range p {
		sum += 1 / q.Var
	}
	return sum
}

// jittered returns points with what a jitter of the variance adds to theirs.
func (f *follower) jittered(p []Point, variance float64) []Point {
	out := make([]Point, len(p))
	for i, own := range f.byPulse() {
		out[i] = p[i]
		out[i].Var += variance * own
	}
	return out
}

// byPulse returns what a jitter of variance one adds to the variance of each point.
func (f *follower) byPulse() []float64 {
	own := make([]float64, len(f.r.Blocks))
	for i, b := range f.r.Blocks {
		own[i] = sharedNoise * overHann / math.Max(1, b.Length*f.now.At(b.T))
	}
	return own
}

// thirds returns the largest jitter, as a variance, that the third differences of the
// phases let expect, 0 if they scatter no more than they should: those of blocks with one
// left out between two, which share no noise.
func thirds(p []Point, b []Block, own []float64) float64 {
	var squares, shares []float64
	for i := 6; i < len(p); i++ {
		sum := func(of func(k int) float64) float64 {
			return (of(i) + 9*of(i-2) + 9*of(i-4) + of(i-6)) / sharedNoise
		}
		v := sum(func(k int) float64 { return p[k].Var })
		if !(v > 0) || math.IsInf(v, 1) {
			continue
		}
		away := func(k int) float64 { return p[k].Phi - b[k].Phi }
		d := away(i) - 3*away(i-2) + 3*away(i-4) - away(i-6)
		squares = append(squares, d*d/v)
		shares = append(shares, sum(func(k int) float64 { return own[k] })/v)
	}
	k := len(squares) / 2
	if k == 0 {
		return 0
	}
	seen := rank.Select(squares, k) / medianSquare
	if seen < jitterSeen {
		return 0
	}
	return (seen - 1) / rank.Select(shares, k)
}
