package live

import "math"

// steps remembers how one steady hum gave way to the next. A thing with inertia
// climbs fast when it is pushed, but does not fall to a lower speed at once and
// stay there; a tune does both, again and again.
type steps struct {
	last  note
	jumps []jump
}

// note is a hum that has ended: when, and at which rate.
type note struct{ end, hz float64 }

type jump struct {
	t    float64
	down bool
}

const (
	// A note holds its rate within holdNote for leastNote seconds.
	holdNote, leastNote = 0.006, 0.2
	// nextNote is the longest pause between two notes, otherNote the least change
	// of the logarithm of the rate.
	nextNote, otherNote = 0.35, 0.035
	// tuneSeconds is the time for which steps are remembered, and tuneJumps the
	// number that makes a tune, one downwards at least.
	tuneSeconds, tuneJumps = 4.0, 2
)

// left takes note of a hum that has gone at time t, at the rate hz, 0 if that was
// not steady.
func (s *steps) left(t, hz float64) { s.last = note{t, hz} }

// begins takes note of a hum that began at time t at the steady rate hz.
func (s *steps) begins(t, hz float64) {
	if s.last.hz == 0 || t-s.last.end > nextNote {
		return
	}
	r := hz / s.last.hz
	if math.Abs(math.Log(r)) < otherNote || simplest(r) != 0 {
		return
	}
	s.jumps = append(s.jumps, jump{t, r < 1})
}

// tune reports whether a tune is heard at time now.
func (s *steps) tune(now float64) bool {
	old, down := 0, false
	for i, j := range s.jumps {
		if j.t < now-tuneSeconds {
			old = i + 1
		}
		down = down || j.t >= now-tuneSeconds && j.down
	}
	s.jumps = append(s.jumps[:0], s.jumps[old:]...)
	return down && len(s.jumps) >= tuneJumps
}
