package tacho

import (
	"math"
	"sort"
)

// A note holds its rate within holdNote for leastNote seconds; the next follows
// within nextNote seconds, and differs by more than otherNote (of the logarithm).
const (
	holdNote, leastNote = 0.006, 0.2
	nextNote, otherNote = 0.3, 0.035
)

// note is a part of a stretch at a steady rate, from block first to last.
type note struct {
	in          *stretch // before it was extended
	of          *stretch // the rotor that it may be a part of, nil for none
	first, last int
	rate        float64 // rad/s, halfway, by ratio, from the lowest to the highest
	spread      float64 // half the logarithm of its highest over its lowest rate
}

func (n note) from() float64   { return n.in.fit.Blocks[n.first].T }
func (n note) to() float64     { return n.in.fit.Blocks[n.last].T }
func (n note) middle() float64 { return (n.from() + n.to()) / 2 }

// through reports whether a note is a part of a rotor that goes on through another
// note, which took its place in the frames only.
func (n note) through(o note) bool {
	if n.of == nil || n.in == o.in {
		return false
	}
	from, to := n.of.times()
	return from <= o.from() && to >= o.to()
}

// notes returns the steady parts of a stretch.
func (s *stretch) notes() []note {
	var out []note
	b, m := s.fit.Blocks, s.fit.Motion
	for i := 0; i < len(m); {
		lo, hi, j := m[i].Omega, m[i].Omega, i
		for j < len(m) && math.Max(hi, m[j].Omega) < math.Min(lo, m[j].Omega)*(1+2*holdNote) {
			lo, hi = math.Min(lo, m[j].Omega), math.Max(hi, m[j].Omega)
			j++
		}
		if b[j-1].T-b[i].T < leastNote {
			i++
			continue
		}
		out = append(out, note{s, nil, i, j - 1, math.Sqrt(lo * hi), math.Log(hi/lo) / 2})
		i = j
	}
	return out
}

// sameStack reports whether two notes may be the same stack of lines, read as
// two different multiples: their rates are in a ratio of small whole numbers,
// or in that of the pulses, so many a turn, to the turn, to within what the notes
// themselves vary. Notes of an equally tempered scale miss the simple ratios, but for
// octaves, by a part in a thousand and more.
func sameStack(a, b note, pulses int) bool {
	const exact = 6e-4
	r := math.Max(b.rate/a.rate, a.rate/b.rate)
	for q := 1.0; q <= 6; q++ {
		p := math.Round(r * q)
		if p < 1 || p > 6 && (p != float64(pulses) || q > 1) || p == q {
			continue
		}
		tol := exact + math.Min(a.spread+b.spread, exact)
		if q == 1 {
			tol = 0.02
		}
		if math.Abs(r*q/p-1) < tol {
			return true
		}
	}
	return false
}

// tune reports whether steady notes follow each other at once at different
// rates, down as well as up, again and again: what has inertia climbs fast when
// it is pushed, but does not fall to a lower speed and stay there; and if its
// speed swings, the way from crest to crest is no step. Rotors that sound at once take
// each other's places in the frames, but each goes on.
func tune(in, rotors []*stretch, pulses int) bool {
	var all []note
	for _, s := range in {
		of, found := sameSound(rotors, s.courses), s
		if s.found != nil {
			found = s.found
		}
		for _, n := range found.notes() {
			n.of = of
			all = append(all, n)
		}
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].from() < all[j].from() })
	ups, downs, glides, sounding := 0, 0, 0, 0.0
	for i, n := range all {
		sounding += n.to() - n.from()
		if i == 0 || n.from()-all[i-1].to() > nextNote {
			continue
		}
		before := all[i-1]
		r := math.Log(n.rate / before.rate)
		switch a := math.Abs(r); {
		case sameStack(before, n, pulses), before.through(n), n.through(before):
		case a < otherNote:
			if a > holdNote/2 {
				glides++ // coasting
			}
		case before.in == n.in && !n.in.levels(n.in.halfway(before.middle(), n.middle())):
			glides++
		case r > 0:
			ups++
		default:
			downs++
		}
	}
	n := ups + downs
	return downs > 0 && n >= 2 && n > 2*glides && float64(n) > 0.2*sounding
}
