package tacho

import (
	"math"

	"rotorhum/tacho/internal/comb"
	"rotorhum/tacho/internal/path"
	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// A rotor has inertia: it does not start and stop within a syllable, wander
// like the pitch of a voice, or step like a tune. These are the bounds, found
// from synthetic voices, tunes and rotors of many kinds (common practice has
// no figure for them).
const (
	// shortLived: a stretch shorter than this many seconds is no witness on
	// its own, unless it fills the recording.
	shortLived = 0.7
	// agile bounds how restless a rotor may be: the square root of the
	// intensity of its changes of acceleration over its speed, in s^-2.5. A
	// push of 300 % per second reaches 1 to 3, a voice 5 to 40. A flutter of some
	// hertz is as restless as a voice, but goes on for longer than a phrase.
	agile, agileBrief = 5.0, 2.0
	brief             = 1.2 // seconds
	flutterSeconds    = 4.0
	flutterAgile      = 60.0
)

// agility returns how restless a stretch is, in s^-2.5.
func (s *stretch) agility() float64 {
	m := s.fit.Motion
	return math.Sqrt(s.fit.Q) / m[len(m)/2].Omega
}

// trust scales how restless a stretch may be, by how well its lines keep their
// phases: those of a rotor, in a dry room, nearly do (0.9 and more of their
// power), those of a voice, which changes its vowels, do not (0.6 to 0.8).
func (s *stretch) trust() float64 {
	return math.Max(0.05, math.Min(1, (s.fit.Coherence-0.7)/0.2))
}

// rotorlike reports whether a stretch can be a rotor in a recording of the
// given length.
func (s *stretch) rotorlike(seconds float64) bool {
	from, to := s.times()
	d, a := to-from, s.agility()/s.trust()
	switch {
	case d >= flutterSeconds:
		return a <= flutterAgile
	case d >= brief:
		return a <= agile
	case d >= shortLived:
		return a <= agileBrief
	default:
		return d >= 0.75*seconds && a <= agileBrief
	}
}

// leastShare is the share of a recording that a rotor must be heard for when
// voices or the like are heard too: among many syllables some are calm.
const leastShare = 0.3

// share returns the share of a recording that the stretches fill.
func share(in []*stretch, seconds float64) float64 {
	sum := 0.0
	for _, s := range in {
		from, to := s.times()
		sum += to - from
	}
	return sum / seconds
}

// supply reports whether a steady tone lies where the hum of a supply would:
// at 50 or 60 Hz or twice that, within a quarter of a per cent.
func supply(f float64) bool {
	for _, h := range [...]float64{50, 60, 100, 120} {
		if math.Abs(f/h-1) < 0.0025 {
			return true
		}
	}
	return false
}

// hums reports whether a stretch stands still on a line of the electric supply:
// what was left of a hum.
func (s *stretch) hums(h *sound.Hum) bool {
	if h == nil {
		return false
	}
	m := s.fit.Motion
	lo, hi := m[0].Omega, m[0].Omega
	for _, e := range m {
		lo, hi = math.Min(lo, e.Omega), math.Max(hi, e.Omega)
	}
	return hi/lo < 1.01 && h.Near(m[len(m)/2].Omega/(2*math.Pi))
}

// mask takes out of the frames every candidate that belongs to the given
// course or to one of its simple multiples.
func mask(f *comb.Frames, c path.Course) {
	for i, s := range c.Steps {
		next := s.Moment + 1
		if i+1 < len(c.Steps) {
			next = c.Steps[i+1].Moment
		}
		for k := s.Moment; k < next && k < len(f.Moments); k++ {
			kept := f.Moments[k].States[:0]
			for _, q := range f.Moments[k].States {
				if !related(q.Rate / s.State.Rate) {
					kept = append(kept, q)
				}
			}
			f.Moments[k].States = kept
		}
	}
}

// related reports whether r is near a ratio of small whole numbers that the
// same sound could be read as.
func related(r float64) bool {
	for _, k := range [...]float64{1, 2, 3, 4, 0.5, 1.0 / 3, 0.25, 1.5, 2.0 / 3} {
		if math.Abs(r/k-1) < 0.05 {
			return true
		}
	}
	return false
}

// A note holds its rate within holdNote for leastNote seconds; the next follows
// within nextNote seconds, and differs by more than otherNote (of the logarithm).
const (
	holdNote, leastNote = 0.006, 0.2
	nextNote, otherNote = 0.3, 0.035
)

// note is a part of a stretch at a steady rate.
type note struct{ from, to, rate float64 }

// notes returns the steady parts of a stretch.
func (s *stretch) notes() []note {
	var out []note
	b, m := s.fit.Blocks, s.fit.Motion
	for i := 0; i < len(m); {
		lo, hi, j := m[i].Omega, m[i].Omega, i
		for j < len(m) && math.Max(hi, m[j].Omega) < math.Min(lo, m[j].Omega)*(1+2*holdNote) {
			lo, hi = math.Min(lo, m[j].Omega), math.Max(hi, m[j].Omega)
			j++
		}
		if b[j-1].T-b[i].T < leastNote {
			i++
			continue
		}
		out = append(out, note{b[i].T, b[j-1].T, math.Sqrt(lo * hi)})
		i = j
	}
	return out
}

// tune reports whether steady notes follow each other at once at different
// rates, down as well as up, again and again: what has inertia climbs fast when
// it is pushed, but does not fall to a lower speed and stay there.
func tune(in []*stretch) bool {
	var all []note
	for _, s := range in {
		all = append(all, s.notes()...)
	}
	ups, downs, glides, sounding := 0, 0, 0, 0.0
	for i, n := range all {
		sounding += n.to - n.from
		if i == 0 || n.from-all[i-1].to > nextNote {
			continue
		}
		r := math.Log(n.rate / all[i-1].rate)
		switch a := math.Abs(r); {
		case a > 0.6 && math.Abs(math.Exp(a)/math.Round(math.Exp(a))-1) < 0.02:
			// the same rate, read as a multiple
		case a < otherNote:
			if a > holdNote/2 {
				glides++ // coasting
			}
		case r > 0:
			ups++
		default:
			downs++
		}
	}
	n := ups + downs
	return downs > 0 && n >= 2 && n > 2*glides && float64(n) > 0.2*sounding
}

func last(m []phase.Smooth) phase.Smooth { return m[len(m)-1] }
