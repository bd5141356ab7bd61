package tacho

import (
	"math"

	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// undisturbed is the share of the power of its lines that a rotor keeps in phase where
// nothing but noise is heard with it.
const undisturbed = 0.98

// disturbedMemory is the time, in seconds, over which the phases that lines have to one
// another are then found: some syllables, each of which moves a line for as long as it
// lasts.
const disturbedMemory = 3.0

// heardOut follows stretches that are taken for a rotor's and change their rate a last
// time, so that lines count less where a voice or an echo disturbs them. A voice may
// leave lines in phase, but with its own: where something else was heard it is done in
// any case. Whether they are a rotor's, and at which multiple, is judged by all lines
// alike, and a steady rate is known best by all of them over the whole time. Ends at
// which the lines go elsewhere are left out.
func heardOut(src *sound.Source, in []*stretch, opt Options) error {
	for i, s := range in {
		if s.fit.Coherence > undisturbed && !s.amid {
			continue
		}
		if _, wander, steady := s.steady(); steady || wander <= steadyWander {
			continue
		}
		n, err := s.heardOut(s.in(src), opt)
		if err != nil {
			return err
		}
		if n != nil {
			kept := *s
			kept.fit = n.fit.Agreeing()
			in[i] = &kept
		}
	}
	return nil
}

// heardOut follows a stretch anew in src, so that lines count less where they are disturbed.
// It returns nil if that is another motion.
func (s *stretch) heardOut(src *sound.Source, opt Options) (*stretch, error) {
	n, err := followed(src, s.course(1, src.Seconds()), 0.002,
		phase.Options{Memory: disturbedMemory, Pulses: s.pulses, Told: opt.Pulses, Beside: s.beside, Disturbed: true, Progress: opt.Progress})
	if err != nil || n == nil || !n.stillIs(s) {
		return nil, err
	}
	return n, nil
}

// stillIs reports whether a stretch is what another is, followed anew: it reaches as far
// at the same rate, but for moments in which a voice led the one or the other away.
func (s *stretch) stillIs(o *stretch) bool {
	const far, off, moments = 0.1, 0.03, 0.1 // seconds, relative, share
	from, to := s.times()
	first, last := o.times()
	if math.Abs(from-first) > far || math.Abs(to-last) > far {
		return false
	}
	away := 0.0
	for _, b := range o.fit.Blocks {
		x, _, _ := s.at(b.T)
		y, _, _ := o.at(b.T)
		if math.Abs(x/y-1) > off {
			away++
		}
	}
	return away <= moments*float64(len(o.fit.Blocks))
}
