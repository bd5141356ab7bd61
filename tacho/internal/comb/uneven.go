package comb

import (
	"math"
	"slices"

	"rotorhum/tacho/internal/rank"
)

const (
	// unevenBlock is the number of resolution cells whose powers are compared, few
	// enough for a floor that rises or falls.
	unevenBlock = 96
	// unevenHigh and unevenLow are the quantiles compared: below both of them are the
	// powers of lines unless these fill a tenth of the cells.
	unevenHigh, unevenLow = 0.9, 0.4
	// unevenSpread is the standard deviation, relative, of the ratio of both in one block,
	// and of the middle of several for one block of them: measured with noise.
	unevenSpread = 0.3
	// unevenLeast is by how much, relative, the powers must scatter more than those of
	// noise do.
	unevenLeast = 0.06
)

// Uneven reports whether the powers of channel c scatter more from one frequency to the
// next than those of noise, of any colour and however it swells, which are exponentially
// distributed around a smooth floor. Knocks that ring in a room do: what it rings with
// and what their moments add up to are like noise along the frequencies both, and powers
// are the product of two. Some stand out by as much as lines, by chance.
func (s *Spectrum) Uneven(c int) bool {
	bins := int(math.Max(1, 1/(s.DF*s.Seconds))) // of a cell
	width := unevenBlock * bins
	var ratios []float64
	var buf []float64
	for lo := width; lo+width <= len(s.Z[c]); lo += width {
		buf = append(buf[:0], s.Z[c][lo:lo+width]...)
		slices.Sort(buf)
		low, high := buf[int(unevenLow*float64(width))], buf[int(unevenHigh*float64(width))]
		if low > 0 {
			ratios = append(ratios, high/low)
		}
	}
	const fewest = 8
	if len(ratios) < fewest {
		return false
	}
	noise := math.Log(1-unevenHigh) / math.Log(1-unevenLow)
	middle := rank.Select(ratios, len(ratios)/2)
	return middle > noise*(1+unevenLeast+3*unevenSpread/math.Sqrt(float64(len(ratios))))
}
