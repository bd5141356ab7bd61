package tacho

import "math"

// heard is what was followed in a recording, a rotor's or not, a voice's or a tune's: with
// anything in it something like a stack of lines was there.
type heard []followedCourse

// followedCourse is a course that was followed: its mean rate in hertz, whether it holds that,
// and its evidence in nats.
type followedCourse struct {
	hz, evidence float64
	holds        bool
}

// add adds a course.
func (h heard) add(s *stretch, evidence float64) heard {
	m, wander, steady := s.steady()
	return append(h, followedCourse{m.Omega / (2 * math.Pi), evidence, steady || wander <= steadyWander})
}

// evidence returns that of all.
func (h heard) evidence() (sum float64) {
	for _, c := range h {
		sum += c.evidence
	}
	return sum
}

// besides returns the evidence of all that is no line of a stack of a steady rate: nothing
// that holds a whole multiple of it.
func (h heard) besides(hz float64) (sum float64) {
	for _, c := range h {
		if k := math.Round(c.hz / hz); !c.holds || k < 1 || math.Abs(c.hz/(k*hz)-1) > steadyWander {
			sum += c.evidence
		}
	}
	return sum
}
