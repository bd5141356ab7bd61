package sound

import (
	"math"
	"slices"
)

// Hum is a family of lines at fixed, known places: the electric supply.
type Hum struct {
	// Base is the supply's frequency in hertz as the recording shows it.
	Base float64
	// Lines are the harmonics that are removed, Found those that stood out.
	Lines, Found []int
	// Only reports that nothing to speak of was left after the removal.
	Only bool

	paired []int // lines with another beside them, a rotor's perhaps
	remove []int
	rate   float64
	step   int // samples between knots
	// amp holds the complex amplitude at every knot: channel, line, knot.
	amp [][][]complex128
}

const (
	humSeconds = 4.0  // length of the pieces in which hum is looked for
	humLines   = 16   // harmonics looked for
	humRemoved = 30   // harmonics removed whether they stand out or not
	humSpread  = 0.12 // hertz by which a supply is looked for off its name
	humMost    = 0.2  // hertz by which it may be off: what grids hold to (common practice)
	humAround  = 9.0  // hertz to either side from which the floor is taken
	humBeside  = 3.0  // hertz to either side in which its lines are alone
	humAlone   = 2    // so many must be, for those with a line of a rotor beside them to count
)

// FindHum looks for the family of a 50 or 60 Hz supply: narrow lines that stand
// still over the whole recording, the supply's frequency or twice it among
// them. It returns nil if there is none.
func (s *Source) FindHum() (*Hum, error) {
	n := int(humSeconds * s.Rate)
	if s.Frames < n {
		n = s.Frames
	}
	if float64(n) < 1.2*s.Rate {
		return nil, nil // too short to tell a hum from a rotor
	}
	// the lines that are looked for lie low: a low rate shows them
	top := humLines*(60+humSpread) + humAround
	low, err := s.medians(n, max(1, int(s.Rate*lowpassFlat/top)))
	if err != nil {
		return nil, err
	}
	// with few pieces a median line of noise alone reaches some 8 times the floor
	least := 8.0 + 12/float64(len(low.all))
	var best *Hum
	score := 0.0
	for _, name := range []float64{50, 60} {
		if h, s := low.supply(name, least); s > score && !h.swings(low, least) && h.leaveSides(low, least) {
			best, score = h, s
		}
	}
	if best == nil || best.divided(low.ratio, least) {
		return nil, nil
	}
	if lasts, err := s.lasts(best, low); !lasts || err != nil {
		return nil, err
	}
	best.rate = s.Rate
	// the supply's frequency from the tops of its lines
	var num, den float64
	for _, m := range best.Lines {
		f := low.top(float64(m) * best.Base)
		w := low.ratio(f) * float64(m)
		num += w * f
		den += w * float64(m)
	}
	b := num / den
	if !ofSupply(b) {
		return nil, nil // a rotor: the wide lines of short pieces reached over
	}
	if math.Abs(b-best.Base) < 0.15 {
		best.Base = b
	}
	if len(best.Lines) >= humAlone {
		best.Lines = append(best.Lines, best.paired...)
		slices.Sort(best.Lines)
	}
	// the first lines always go, those further up where they stand out
	all, err := s.medians(n, 1)
	if err != nil {
		return nil, err
	}
	for m := 1; float64(m)*best.Base < 0.45*s.Rate; m++ {
		if m <= humRemoved || all.ratio(float64(m)*best.Base) > least {
			best.remove = append(best.remove, m)
		}
	}
	return best, nil
}

// supply returns the likeliest supply of about the given frequency, of those that have
// lines of at least so much power over the floor, with a score, 0 if there is none.
func (m *medians) supply(name, least float64) (best *Hum, score float64) {
	for off := -humSpread; off <= humSpread+1e-9; off += 0.01 {
		h := &Hum{Base: name + off}
		sum := -(off / 0.05) * (off / 0.05)
		for k := 1; k <= humLines; k++ {
			f := float64(k) * h.Base
			if f > 0.45*m.rate {
				break
			}
			if r := m.ratio(f); r > least {
				switch m.beside(f) {
				case 0:
					h.Lines = append(h.Lines, k)
					sum += math.Log(r)
				case 1:
					h.paired = append(h.paired, k)
				}
			}
		}
		if sum > score && h.low() {
			best, score = h, sum
		}
	}
	return best, score
}

// low reports whether the supply's frequency or twice it is among the lines of h.
func (h *Hum) low() bool {
	if len(h.Lines) > 0 && h.Lines[0] <= 2 {
		return true
	}
	return len(h.Lines) >= humAlone && len(h.paired) > 0 && h.paired[0] <= 2
}

// ofSupply reports whether a supply may have this frequency.
func ofSupply(hz float64) bool { return math.Min(math.Abs(hz-50), math.Abs(hz-60)) <= humMost }

// divided reports whether the lines of h are part of a stack with more lines
// between, as strong as they are: every second or third line of a rotor that
// happens to turn with the supply. ratio tells the power at a frequency over the
// floor around it, least that of a line.
func (h *Hum) divided(ratio func(f float64) float64, least float64) bool {
	for k := 2; k <= 4; k++ {
		var own, between, sum float64
		lines := 0.0
		for m := 1; m <= h.Lines[len(h.Lines)-1]*k; m++ {
			r := math.Log(math.Max(1, ratio(float64(m)*h.Base/float64(k))))
			if m%k == 0 {
				own += r
				sum++
				continue
			}
			if between += r; r > math.Log(least) {
				lines++
			}
		}
		// half of the places between hold lines, and those reach half as many decibels
		if places := sum * float64(k-1); lines >= 4 && lines > places/2 && between/places > own/sum/2 {
			return true
		}
	}
	return false
}

// Remove takes the lines of h out of what Block returns from now on. Lines
// keep their amplitude and phase for seconds; what changes faster stays.
//
// Once a supply is found, its first lines all go, those too that do not stand
// out by themselves. A hum that proves to be none, as a rotor's lines lie too near to
// tell them apart, stays.
func (s *Source) Remove(h *Hum) error {
	h.Found, h.Lines = h.Lines, h.remove
	h.step = int(1.0 * s.Rate)
	if err := s.measure(h); err != nil {
		return err
	}
	if !ofSupply(h.Base) {
		return nil // a rotor beside it led it away
	}
	before, err := s.power()
	if err != nil {
		return err
	}
	s.hum = h
	s.store.each(func(i int, x [][]float64) [][]float64 {
		if s.Stopped() == nil { // else nobody will look
			h.subtract(x, i*pieceFrames)
		}
		return x
	})
	after, err := s.power()
	h.Only = after < humOnly*before
	return err
}

// humOnly is the share of the power that must be left after a hum was removed
// for there to be anything else: the removal itself leaves traces below it.
const humOnly = 1e-4

// power returns the mean power of pieces spread over the recording.
func (s *Source) power() (float64, error) {
	const piece = 4096
	sum := 0.0
	step := max(piece, s.Frames/16)
	for start := 0; start < s.Frames; start += step {
		x, err := s.Block(nil, start, min(piece, s.Frames-start))
		if err != nil {
			return 0, err
		}
		for _, ch := range x {
			for _, v := range ch {
				sum += v * v
			}
		}
	}
	return sum, nil
}

// Near reports whether f is a line of the supply, within a part in a thousand and
// nearLine hertz, whichever is less: a steady tone there is what was left of the hum.
func (h *Hum) Near(f float64) bool {
	m := math.Round(f / h.Base)
	return m >= 1 && math.Abs(f-m*h.Base) < math.Min(1e-3*f, nearLine)
}

// nearLine is by how much, in hertz, a high line of a supply may be off while it is
// listened to: a hundredth of a hertz or so for each of its order (common practice).
const nearLine = 0.25
