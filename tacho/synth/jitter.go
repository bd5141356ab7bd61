package synth

import (
	"math"
	"math/rand/v2"
)

// jitter is by how much the pulses of a rotor come early or late, each on its own.
type jitter struct {
	rnd   *rand.Rand
	sd    float64
	pulse float64 // the part of the way from the last one to the next
	a, b  float64 // by how much the last and the next are early, as parts of the spacing
}

// newJitter begins where so many pulses have passed.
func newJitter(rnd *rand.Rand, sd, pulses float64) *jitter {
	j := &jitter{rnd: rnd, sd: sd, pulse: pulses - math.Floor(pulses)}
	j.a, j.b = sd*rnd.NormFloat64(), sd*rnd.NormFloat64()
	return j
}

// step goes on by so many pulses, less than one, and returns how early the sound is there,
// as a part of the spacing: as early as each pulse is in its middle, and between two of them
// it changes without a corner.
func (j *jitter) step(pulses float64) float64 {
	j.pulse += pulses
	if j.pulse >= 1 {
		j.pulse -= math.Floor(j.pulse)
		j.a, j.b = j.b, j.sd*j.rnd.NormFloat64()
	}
	u := j.pulse
	return j.a + (j.b-j.a)*u*u*(3-2*u)
}
