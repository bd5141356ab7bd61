package tacho

import (
	"math"
	"slices"
)

// inPieces returns the stretches that were judged, those that were refused as well, if
// all of them are of one rotor that was heard in pieces, as one is that is pushed again
// and again and is too slow or too faint to be heard between: that they are takes
// caution but once. Otherwise it returns those kept as they are.
//
// Voices and tunes come in pieces as well, but among theirs there are such that no rotor
// makes; and of what is no rotor's, one piece often lies beside another.
func (f *finder) inPieces(kept []*stretch) (out []*stretch, found bool) {
	if len(f.notes) > 0 {
		return kept, false
	}
	all := slices.Clone(kept)
	for _, s := range f.refused {
		if !slices.Contains(f.steady, s) {
			all = append(all, s)
		}
	}
	if len(all) == len(kept) {
		return kept, false
	}
	inTime(all)
	sum := 0.0
	for i, s := range all {
		sum += s.nats
		if i > 0 {
			_, end := all[i-1].times()
			if start, _ := s.times(); start < end-handover {
				return kept, false
			}
		}
	}
	if len(all) < 2 || sum-caution < beyondDoubt {
		return kept, false
	}
	for _, s := range all {
		s.piece, s.rotor = true, math.Max(s.rotor, beyondDoubt)
	}
	return all, true
}
