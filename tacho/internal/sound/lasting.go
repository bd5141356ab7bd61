package sound

import (
	"slices"

	"rotorhum/tacho/internal/rank"
)

// A supply hums from the beginning to the end of a recording. A rotor that holds for a
// while a rate of which the supply's lines are multiples shows them no longer than that.

const (
	// lastingPieces are as many as it takes to tell, at least.
	lastingPieces = 5
	// absent is how far below what it usually is, in power, a hum is no more: more than
	// any gain that a recorder regulates takes away. Where it stands less than audible
	// times above the noise usually, that cannot be told.
	absent, audible = 20.0, 40.0
	// mostAbsent is the share of the time for which it may be absent, for a recording
	// that drops out.
	mostAbsent = 0.125
)

// lasts reports whether the lines of h are there all the time, as far as can be told;
// pieces are those in which they were found.
func (s *Source) lasts(h *Hum, pieces *medians) (bool, error) {
	if len(pieces.all) < lastingPieces {
		var err error
		if pieces, err = s.medians(2*s.Frames/(lastingPieces+1), pieces.by); err != nil {
			return false, err
		}
	}
	noise := 0.0
	power := make([]float64, len(pieces.all))
	for _, m := range h.Lines {
		f := float64(m) * h.Base
		k := int(f/pieces.df + 0.5)
		noise += pieces.floor(f)
		for i, p := range pieces.all {
			power[i] += slices.Max(p[k-1 : k+2])
		}
	}
	usual := rank.Select(slices.Clone(power), 3*len(power)/4)
	gone := 0.0
	for _, p := range power {
		if p < usual/absent {
			gone++
		}
	}
	return usual < audible*noise || gone <= mostAbsent*float64(len(power)), nil
}
