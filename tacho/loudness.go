package tacho

import (
	"math"

	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// Which of two rotors is the louder is told by the power of the lines of both, each
// measured in what the lines of the other leave, in turns, as a fit of both at once is
// found (alternating least squares). Where lines of both lie too near to each other to
// be told apart, each stack is taken to have as much there as its own lines beside that
// place. All lines count, as far as they stand out of the noise: the power of twenty would
// be all of a whistle's and as little as a tenth of what a card in slow spokes gives, which
// rings where it will, and not where the first lines of its clicks lie.

const (
	// loudLines is the number of lines of a stack that count at most: those of a shaft that
	// turns 25 times a second reach to 16 kHz.
	loudLines = 640
	// loudSeconds is the longest time of which the lines are measured at once, as all its
	// blocks are held for it.
	loudSeconds = 60.0
)

// powers returns the mean power of the lines of two that were followed apart, in squares
// of samples, over all channels, between two moments; 0 where that is too short to tell.
func powers(src *sound.Source, a, b *parted, from, to float64, pulses int) (p, q float64, err error) {
	if p, err = a.power(src, from, to, pulses); err == nil {
		q, err = b.power(src, from, to, pulses)
	}
	return p, q, err
}

// power is powers for one of the two.
func (p *parted) power(src *sound.Source, from, to float64, pulses int) (sum float64, err error) {
	z := p.shaft(pulses)
	course := p.course(1/float64(z), src.Seconds())
	n := math.Ceil((to - from) / loudSeconds)
	for k := range int(n) {
		c := between(course, from+(to-from)*float64(k)/n, from+(to-from)*float64(k+1)/n)
		l, err := phase.NewStack(p.alone, c, loudLines, z, stackMemory, p.beside)
		if err != nil {
			return 0, err
		}
		if l != nil {
			sum += l.Power() / n
		}
	}
	return sum, nil
}

// energies returns the energies of the lines of two rotors that sound at the same time,
// each in one piece or more, 0 where they are too short to tell.
func (f *finder) energies(a, b []*stretch, pulses int) (x, y float64, err error) {
	var of, others []*phase.Stack
	if of, _, err = f.measured(a, f.src, nil, pulses); err != nil {
		return 0, 0, err
	}
	if others, y, err = f.measured(b, without(f.src, of...), of, pulses); err != nil {
		return 0, 0, err
	}
	_, x, err = f.measured(a, without(f.src, others...), others, pulses)
	return x, y, err
}

// measured returns the lines of stretches in src, and their energy.
func (f *finder) measured(in []*stretch, src *sound.Source, beside []*phase.Stack, pulses int) (lines []*phase.Stack, energy float64, err error) {
	for _, s := range in {
		l, err := s.stack(src, pulses, beside...)
		if err != nil {
			return nil, 0, err
		}
		if l != nil {
			from, to := s.times()
			lines, energy = append(lines, l), energy+l.Power()*(to-from)
		}
	}
	return lines, energy, nil
}

// between returns the part of a course between two moments.
func between(c phase.Course, from, to float64) (part phase.Course) {
	part.Add(from, c.At(from), c.Rounded(from))
	for i, t := range c.T {
		if t > from && t < to {
			part.Add(t, c.Rate[i], c.Rounded(t))
		}
	}
	part.Add(to, c.At(to), c.Rounded(to))
	return part
}
