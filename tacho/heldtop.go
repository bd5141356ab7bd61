package tacho

import "math"

// A rotor that is driven holds its speed. Every moment of a top that is held is as
// high as any other, but each is read with an error of its own, and the highest
// reading is too high; there the moment that is known best counts.

// surely is the number of standard uncertainties within which the truth is taken to
// lie where it is asked what may be the top.
const surely = 3.0

// heldShare is the share of what may be the top over which the rate must be held.
const heldShare = 0.5

// heldTop is a top that is held.
type heldTop struct {
	in       *stretch
	best     int     // the block known best
	from, to float64 // all of what may be the top
	late     float64 // by how much, in rad/s, a hall may hide that it is higher
}

// surelyReached returns the highest rate, in rad/s, that is surely reached, and in
// which block of which stretch.
func surelyReached(in []*stretch) (omega float64, s *stretch, block int) {
	for _, v := range in {
		for i, m := range v.fit.Motion {
			if low := m.Omega - surely*math.Sqrt(m.OmegaVar); low > omega {
				omega, s, block = low, v, i
			}
		}
	}
	return omega, s, block
}

// findHeldTop returns the top of all stretches if it is held, else nil.
//
// Around what the rate surely reaches lies what may be the top. Around the moment
// of it that is known best, the intensity of the changes says for how long the rate
// runs along one straight line. If that is most of it, and the line is level as far
// as one can tell, the rate is held.
func findHeldTop(in []*stretch, seconds float64) *heldTop {
	reached, s, at := surelyReached(in)
	if s == nil {
		return nil
	}
	b, m := s.fit.Blocks, s.fit.Motion
	best, run := at, [2]int{at, at}
	for k, step := range [...]int{-1, 1} {
		for i := at; i >= 0 && i < len(m) && m[i].Omega+surely*math.Sqrt(m[i].OmegaVar) >= reached; i += step {
			run[k] = i
			if m[i].OmegaVar < m[best].OmegaVar {
				best = i
			}
		}
	}
	first, last := max(run[0], s.straight(best, -1)), min(run[1], s.straight(best, 1))
	straight, whole := b[last].T-b[first].T, b[run[1]].T-b[run[0]].T
	if !(straight > heldShare*whole) || math.Abs(m[best].Alpha) > surely*math.Sqrt(m[best].AlphaVar) {
		return nil
	}
	// the blocks beside it are lower; between them and it lies where it begins and ends
	top := &heldTop{in: s, best: best, from: b[max(run[0]-1, 0)].T, to: b[min(run[1]+1, len(b)-1)].T}
	for _, v := range m[run[0] : run[1]+1] {
		if v.Late > 0 {
			top.late = math.Max(top.late, v.Omega+math.Abs(v.Alpha)*v.Late-m[best].Omega)
		}
	}
	from, to := s.reach(seconds)
	if run[0] == 0 {
		top.from = from
	}
	if run[1] == len(b)-1 {
		top.to = to
	}
	return top
}

// straight returns the last block, from one on in the direction of step, up to which
// changes of acceleration of the intensity found would leave the rate on a straight
// line to within its standard uncertainty.
func (s *stretch) straight(from, step int) int {
	b := s.fit.Blocks
	// sums over the steps so far of their share in the variance of the acceleration,
	// times the powers of how far off they are
	var q0, q1, q2 float64
	i := from
	for j := i + step; j >= 0 && j < len(b); j += step {
		q := s.fit.QAt(max(i, j)) * math.Abs(b[j].T-b[i].T)
		x := math.Abs((b[i].T+b[j].T)/2 - b[from].T)
		q0, q1, q2 = q0+q, q1+q*x, q2+q*x*x
		d := math.Abs(b[j].T - b[from].T)
		if q0*d*d-2*q1*d+q2 > s.fit.Motion[from].OmegaVar {
			break
		}
		i = j
	}
	return i
}

// peak returns the held top as a peak: its moment is the one that is known best, and
// may be any of it.
func (h *heldTop) peak(tick, seconds float64, opt Options) *PeakSpeed {
	m := h.in.fit.Motion[h.best]
	return &PeakSpeed{
		T:     h.in.fit.Blocks[h.best].T,
		TLo95: math.Max(0, h.from-tick), THi95: math.Min(seconds, h.to) + tick,
		Tone: opt.tone(m.Omega/(2*math.Pi), math.Hypot(math.Sqrt(m.OmegaVar), h.late)/(2*math.Pi)),
	}
}
