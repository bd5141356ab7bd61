package tacho

import (
	"math"

	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// A rotor that is pushed or braked from one moment to the next leaves the course that
// the frames showed: where its rate changes by several times within a second it is
// hardly to be seen in any of them. But its lines are known then, and the moment at
// which they go elsewhere: a few slopes are all that is to be tried.
const (
	// steepestTurn is the steepest slope that is looked for, in shares per second, and
	// slopeStep the way from one to the next. A turn lies turnReach seconds before or
	// after the end of a stretch at most, turnStep from one to the next.
	steepestTurn, slopeStep = 3.6, 0.6
	turnReach, turnStep     = 0.12, 0.03
	// So many lines are looked at, first a few, over turnCycles beyond the end, and
	// turnSeconds at least.
	fewTurnLines, turnLines = 3, 6
	turnCycles, turnSeconds = 16, 0.12
	// turnError is the relative error to expect beyond a turn.
	turnError = 0.02
	// surelyTurned is the evidence, in nats, from which on the lines are taken to go
	// there: of some hundred turns one is clearly found by chance.
	surelyTurned = clearly + 5
	// noteHolds is up to which slope, in shares per second, a rate holds, as those of notes do.
	noteHolds = 0.3
)

// turn is a moment from which on a stretch has a given slope, in shares of the rate then
// per second: straight on in hertz, or in the logarithm.
type turn struct {
	at, slope float64
	linear    bool
	// fit is how much better it explains the sound than noise, nats the evidence that the
	// lines go on along it beyond the end of the stretch.
	fit, nats float64
}

// rate returns the rate at t beyond a turn where it is from.
func (u turn) rate(from, t float64) float64 {
	d := u.slope * (t - u.at)
	if u.linear {
		return from * math.Max(0.3, 1+d)
	}
	return from * math.Exp(d)
}

// turned goes on with a stretch beyond its end (sign 1) or its start (sign -1) along
// the slope that its lines have from near there on; at is from when on. It returns nil
// where nothing of them is found.
func (s *stretch) turned(src *sound.Source, sign float64, opt Options) (n *stretch, at float64, err error) {
	u, far, err := s.findTurn(src, sign)
	if err != nil || u.nats < surelyTurned {
		return nil, 0, err
	}
	edge, rate := s.edge(sign)
	from, to := s.times()
	near := math.Max(from, math.Min(to, edge-sign*math.Max(0.6, 24/rate)))
	if n, err = refineCourse(src, s.alongTurn(sign, u, near, far), 0.002, opt); err != nil || n == nil {
		return nil, 0, err
	}
	// before it must be the same motion, and it must go on well beyond
	inside := u.at - sign*0.1
	if from, to = n.times(); inside < from || inside > to {
		return nil, 0, nil
	}
	x, _, _ := n.at(inside)
	y, _, _ := s.at(inside)
	n.fit = n.fit.Agreeing()
	end, _ := n.edge(sign)
	if math.Abs(x/y-1) > 0.01 || sign*(end-edge) < math.Abs(far-edge)/2 {
		return nil, 0, nil
	}
	if s.slopeBeyond(sign) < noteHolds && n.slopeBeyond(sign) < math.Abs(u.slope)/2 {
		return nil, 0, nil // from one rate that holds to another at once: the next note
	}
	at, _ = s.last(sign)
	return n, sign * math.Min(sign*u.at, sign*at), nil
}

// findTurn returns the likeliest turn near an end of the stretch, and how far beyond that
// it looked. All are weighed by the same piece of sound.
func (s *stretch) findTurn(src *sound.Source, sign float64) (best turn, far float64, err error) {
	edge, rate := s.edge(sign)
	from, to := s.times()
	reach := math.Max(turnSeconds, turnCycles/rate)
	far = math.Max(0, math.Min(src.Seconds()-1/src.Rate, edge+sign*reach))
	first := edge - sign*(turnReach+turnStep) // from here on they differ
	near := math.Max(from, math.Min(to, first-sign*reach))
	if math.Min(math.Abs(far-edge), math.Abs(first-near)) < leastCycles/rate {
		return best, far, nil
	}
	lines := func(n int) int { return max(1, min(n, int(0.45*src.Rate/(2*rate)))) }
	before, err := phase.Demodulate(src, s.alongTurn(sign, turn{at: first}, near, first), lines(turnLines), 4, 0.008)
	if err != nil {
		return best, far, err
	}
	try := func(u turn, n int) error {
		if math.Abs(u.slope) > steepestTurn {
			return nil
		}
		blocks, err := phase.Demodulate(src, s.alongTurn(sign, u, first, far), lines(n), 4, 0.008)
		if err != nil || len(blocks) == 0 {
			return err
		}
		blocks = append(blocks, before...)
		if u.fit = linesBeyond(blocks, first, sign, lines(n), 2, 0, math.Inf(1), nil); u.fit > best.fit {
			u.nats = linesBeyond(blocks, sign*math.Max(sign*edge, sign*u.at), sign, lines(n), 2, 0, boldest, nil)
			best = u
		}
		return nil
	}
	for way := -turnReach; way <= turnReach; way += turnStep {
		for slope := -steepestTurn; slope <= steepestTurn+slopeStep/2; slope += slopeStep {
			if err := try(turn{at: edge + way, slope: slope}, fewTurnLines); err != nil {
				return best, far, err
			}
		}
	}
	if best.fit == 0 {
		return best, far, nil
	}
	u := best
	best.fit = 0 // of fewer lines
	for _, part := range [...]float64{2, 4, 8} {
		for i := range 3 {
			for j := range 3 {
				for _, linear := range [...]bool{false, true} {
					v := turn{at: u.at + float64(i-1)*turnStep/part, slope: u.slope + float64(j-1)*slopeStep/part, linear: linear}
					if err := try(v, turnLines); err != nil {
						return best, far, err
					}
				}
			}
		}
		u = best
	}
	return best, far, nil
}

// alongTurn returns the course of the stretch with a turn, from near to far.
func (s *stretch) alongTurn(sign float64, u turn, near, far float64) (c phase.Course) {
	const knots = 40
	rate := s.straightOn(sign, u.at)
	lo, hi := math.Min(near, far), math.Max(near, far)
	for i := 0; i <= knots; i++ {
		t := lo + (hi-lo)*float64(i)/knots
		if sign*(t-u.at) > 0 {
			c.Add(t, u.rate(rate, t), turnError)
		} else {
			c.Add(t, s.straightOn(sign, t), 0)
		}
	}
	return c
}

// straightOn returns the rate of the stretch, in hertz, at t; beyond its end as if it went
// on as it does there.
func (s *stretch) straightOn(sign, t float64) float64 {
	last, k := s.last(sign)
	if sign*(t-last) <= 0 {
		hz, _, _ := s.at(t)
		return hz
	}
	m := s.fit.Motion[k]
	return turn{at: last, slope: m.Alpha / m.Omega}.rate(m.Omega/(2*math.Pi), t)
}

// edge returns the very end of the stretch, or its start if sign is -1, and the rate there
// in hertz.
func (s *stretch) edge(sign float64) (t, hz float64) {
	t, k := s.last(sign)
	return t + sign*s.fit.Blocks[k].Length/2, s.fit.Motion[k].Omega / (2 * math.Pi)
}
