package tacho

import "math"

const (
	// secondRotor is what it costs to believe in a second rotor, and anyRatio
	// what it costs more where the ratio of the rates is no simple one, but the
	// best of thousands.
	secondRotor, anyRatio = 7.0, 9.0
	// pairWith is the number of readings that are tried beside a second rotor.
	pairWith = 8
)

// twoRotors asks whether two stacks explain the lines better than any one, as
// two rotors do, whatever the ratio of their rates: then the louder is the
// reading, if it lies in the range, and the other the first alternative, as likely
// as it is loud. Where one stack explains them better, as it may if the two are in
// tune, each of the readings is as likely as it is beside a second rotor all the same.
// The second is looked for between lo and hi.
func (w *weigher) twoRotors(list []reading, lo, hi float64) []reading {
	best, a, b := list[0].score, -1, 0.0
	scores := make([]float64, len(list)) // alone or beside a second rotor
	for i, r := range list {
		scores[i] = r.score
	}
	for i, r := range list[:min(pairWith, len(list))] {
		x := r.ratio()
		bases := []float64{x}
		if w.z > 1 {
			bases = append(bases, x/float64(w.z))
		}
		for _, base := range bases {
			rate, nats := w.o.Second(base, lo, hi, w.sure)
			if nats < secondRotor || whole(rate/x) || whole(x/rate) {
				continue
			}
			v := w.beside(rate, r) + r.rare(w.z)
			if scores[i] = math.Max(scores[i], v); v > best {
				best, a, b = v, i, rate
			}
		}
	}
	for i, v := range scores {
		list[i].score = v
	}
	if a < 0 {
		sortReadings(list)
		return list
	}
	first := list[a]
	pa, pb := w.o.Power(first.ratio(), b), w.o.Power(b, first.ratio())
	if inside := b >= w.lo && b <= w.hi; pb > pa && !inside && pa < mere*pb {
		// all that was followed is lines of something outside the range: what else
		// is there?
		if rate, nats := w.o.Second(b, w.lo, w.hi, w.sure); nats > secondRotor {
			return append([]reading{w.pulsesOf(rate, b)}, list...)
		}
	} else if pb > pa && inside {
		second := first
		first = w.pulsesOf(b, second.ratio())
		second.score = best - 2*math.Log(pb/math.Max(pa, 1e-30))
		first.score = best
		list[a] = second
		return w.rescored(b, first, second, list)
	}
	first.score = best
	second := reading{rate: b, score: best - 2*math.Log(math.Max(1, pa/math.Max(pb, 1e-30)))}
	return w.rescored(b, first, second, list)
}

// mere is the power of a stack's own lines over those of the other below which it
// is no rotor of its own.
const mere = 0.05

// rescored returns two readings that explain the lines together, and the others of
// a list, as likely as they were or as they are beside the stack of rate b.
func (w *weigher) rescored(b float64, first, second reading, list []reading) []reading {
	var others []reading
	for _, r := range list {
		if r.ratio() != first.ratio() && r.ratio() != second.ratio() {
			if x := r.ratio(); !whole(x/b) && !whole(b/x) {
				r.score = math.Max(r.score, w.beside(b, r))
			}
			r.score = math.Min(first.score, r.score)
			others = append(others, r)
		}
	}
	sortReadings(others)
	return append([]reading{first, second}, others...)
}

// pulsesOf returns the reading of a stack that was found beside another: its
// lines may be those of the shaft.
func (w *weigher) pulsesOf(base, other float64) reading {
	best := reading{rate: base, score: math.Inf(-1)}
	for d := 1; d <= w.z; d++ {
		r := reading{rate: base * float64(d)}
		if w.z%d != 0 || r.rate > w.hi {
			continue
		}
		if r.score = w.beside(other, r); r.score > best.score {
			best = r
		}
	}
	return best
}

// simple reports whether r is within one per cent of a ratio of whole numbers
// below ten.
func simple(r float64) bool {
	for q := 1.0; q < 10; q++ {
		if p := math.Round(r * q); p >= 1 && p < 10 && math.Abs(r*q/p-1) < 0.01 {
			return true
		}
	}
	return false
}
