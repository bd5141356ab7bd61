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
func powers(a, b *parted, from, to float64, pulses int) (p, q float64, err error) {
	if p, err = a.power(a.alone, from, to, pulses, a.beside); err == nil {
		q, err = b.power(b.alone, from, to, pulses, b.beside)
	}
	return p, q, err
}

// power is powers for the lines of one stretch in src, which is without those beside.
func (s *stretch) power(src *sound.Source, from, to float64, pulses int, beside []*phase.Stack) (sum float64, err error) {
	z := s.shaft(pulses)
	course := s.course(1/float64(z), src.Seconds())
	n := math.Ceil((to - from) / loudSeconds)
	for k := range int(n) {
		c := between(course, from+(to-from)*float64(k)/n, from+(to-from)*float64(k+1)/n)
		l, err := phase.NewStack(src, c, loudLines, z, stackMemory, beside)
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
	of, err := stacks(a, f.src, nil, pulses)
	if err != nil {
		return 0, 0, err
	}
	left := without(f.src, of...)
	others, err := stacks(b, left, of, pulses)
	if err != nil {
		return 0, 0, err
	}
	if y, err = energy(b, left, of, pulses); err != nil {
		return 0, 0, err
	}
	x, err = energy(a, without(f.src, others...), others, pulses)
	return x, y, err
}

// stacks returns the lines of stretches in src; those of one that is too long are not told.
func stacks(in []*stretch, src *sound.Source, beside []*phase.Stack, pulses int) (lines []*phase.Stack, err error) {
	for _, s := range in {
		l, err := s.stack(src, pulses, beside...)
		if err != nil {
			return nil, err
		}
		if l != nil {
			lines = append(lines, l)
		}
	}
	return lines, nil
}

// energy returns the energy of the lines of stretches in src, however long.
func energy(in []*stretch, src *sound.Source, beside []*phase.Stack, pulses int) (sum float64, err error) {
	for _, s := range in {
		from, to := s.times()
		p, err := s.power(src, from, to, pulses, beside)
		if err != nil {
			return 0, err
		}
		sum += p * (to - from)
	}
	return sum, nil
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
