package tacho

import (
	"math"
	"slices"

	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// A stretch ends half a block before the recording does, or sooner: what is there at the
// very edge is asked for by itself.

// knot is a rate, in hertz, at a moment, and the relative error to expect of it.
type knot struct{ t, rate, bend float64 }

// nearEdge returns where the stretch would be at the edge of the recording beyond
// one of its ends, if that is too near for lines to be looked for there, but not so
// near that the stretch is taken to it anyway; else nil.
func (s *stretch) nearEdge(seconds, sign float64) *knot {
	b, m := s.fit.Blocks, s.fit.Motion
	from, to := s.reach(seconds)
	k, edge, there := 0, 0.0, from == 0
	if sign > 0 {
		k, edge, there = len(b)-1, seconds, to == seconds
	}
	rate, slope := m[k].Omega/(2*math.Pi), m[k].Alpha/(2*math.Pi)
	gap := math.Abs(edge-b[k].T) - b[k].Length/2
	if there || gap > endGap+leastCycles/rate || math.Abs(slope) > endSlope*rate {
		return nil
	}
	way := slope * (edge - b[k].T)
	return &knot{edge, rate + way, straight * math.Abs(way) / rate}
}

// goneAtEdge reports whether the lines of a stretch of a steady rate (Hz) are likelier gone
// than not at an edge of the recording that it does not reach: the rotor ran up or down
// there in less time than it then held.
func (s *stretch) goneAtEdge(src *sound.Source, rate float64) (gone bool, err error) {
	limit := src.Seconds() - 1/src.Rate
	harmonics := max(1, min(lineHarmonics, int(0.45*src.Rate/rate)))
	reach := endGap + math.Max(endSeconds, 2*leastCycles/rate)
	for _, sign := range [...]float64{-1, 1} {
		at, k := s.last(sign)
		end, edge := at+sign*s.fit.Blocks[k].Length/2, 0.0
		if sign > 0 {
			edge = limit
		}
		if sign*(edge-end) < endGap+leastCycles/rate {
			continue
		}
		// the last part of the stretch and the last one of the recording
		var blocks []phase.Block
		for _, part := range [...][2]float64{{end - sign*reach, end}, {edge - sign*math.Min(reach, sign*(edge-end)), edge}} {
			slices.Sort(part[:])
			c := phase.Course{T: []float64{math.Max(0, part[0]), math.Min(limit, part[1])}, Rate: []float64{rate, rate}}
			more, err := phase.Demodulate(src, c, harmonics, 4, 0.008)
			if err != nil {
				return false, err
			}
			blocks = append(blocks, more...)
		}
		if len(blocks) > 0 && linesBeyond(blocks, end, sign, harmonics, 3, 0, boldest, nil) < 0 {
			return true, nil
		}
	}
	return false, nil
}
