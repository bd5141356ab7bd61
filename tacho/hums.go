package tacho

import (
	"math"
	"slices"

	"rotorhum/tacho/internal/sound"
)

// supply reports whether a steady tone lies where the hum of a supply would:
// at 50 or 60 Hz or twice that, within a third of a per cent.
func supply(f float64) bool {
	for _, h := range [...]float64{50, 60, 100, 120} {
		if math.Abs(f/h-1) < 0.0033 {
			return true
		}
	}
	return false
}

// standing is the share of the time for which a hum stands still: where its level
// or something else changes, the rate that is followed may sway.
const standing = 0.8

// hums reports whether a stretch stands still where the hum of a supply would, or
// on a line of the hum that was found: what was left of it, or one that swells. One
// whose lines keep their phases while it surely moves is none.
func (s *stretch) hums(h *sound.Hum) bool {
	n := len(s.fit.Motion)
	rates, unknown := make([]float64, n), make([]float64, n)
	for i, m := range s.fit.Motion {
		rates[i], unknown[i] = m.Omega/(2*math.Pi), math.Sqrt(m.OmegaVar)/m.Omega
	}
	slices.Sort(rates)
	slices.Sort(unknown)
	at := func(share float64) float64 { return rates[int(share*float64(n-1)+0.5)] }
	hz, sway := at(0.5), at((1+standing)/2)/at((1-standing)/2)-1
	if s.fit.Coherence > keepsAlone && sway > supplyMoves+surelyMoves*unknown[n/2] {
		return false
	}
	return sway < 0.01 && (supply(hz) || h != nil && leftOf(h, hz, func(m int) float64 {
		if m > len(s.fit.Lines) {
			return 0
		}
		return s.fit.Lines[m-1]
	}))
}

// leftOf reports whether a steady stack of the given rate is what was left of a hum: it
// lies on one of its lines, or every other of its own lines does, and the rest hardly
// sound. power tells that of the m-th line over the noise.
func leftOf(h *sound.Hum, hz float64, power func(m int) float64) bool {
	if h.Near(hz) || !h.Near(2*hz) {
		return h.Near(hz)
	}
	var odd, even float64
	for m := 1; m <= lineHarmonics; m += 2 {
		odd += power(m)
		even += power(m + 1)
	}
	return odd < hardly*even
}

// hardly is the power of lines, as a share of that of others, up to which they may be
// noise that stands out by chance.
const hardly = 0.1

// supplied reports whether a steady family is that of a supply: at its frequency, or at a
// whole part of that with hardly any power in lines which the supply has not.
func (f *Family) supplied() bool {
	const parts = 6
	for q := 1; q <= parts; q++ {
		if !supply(float64(q) * f.Tone.X) {
			continue
		}
		var own, others float64
		for _, l := range f.Lines {
			p := math.Pow(10, l.SNR/10)
			if int(math.Round(l.M))%q == 0 {
				own += p
			} else {
				others += p
			}
		}
		if others < hardly*own || q == 1 {
			return true
		}
	}
	return false
}

// power returns the power of the m-th line over the noise, 0 for one that does not stand
// out.
func (f *Family) power(m int) float64 {
	for _, l := range f.Lines {
		if l.M == float64(m) {
			return math.Pow(10, l.SNR/10)
		}
	}
	return 0
}

// supplyMoves is by how much, relative, a supply may change its frequency while it is
// followed (common practice), surelyMoves by how many standard uncertainties more a rate
// must sway for it to move.
const supplyMoves, surelyMoves = 0.002, 10
