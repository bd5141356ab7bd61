package tacho

import (
	"cmp"
	"math"
	"slices"

	"rotorhum/tacho/internal/phase"
)

// agree lets a stretch that cannot decide follow its neighbours: among readings
// nearly as likely as the best, the one that joins on to a stretch with more evidence
// is preferred.
func agree(in []*stretch, lists [][]reading) {
	var order []int
	for i := range in {
		if len(lists[i]) > 0 {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(in[j].evidence, in[i].evidence) })
	for n, i := range order {
		before, after := -1, len(in)
		for _, j := range order[:n] {
			if j < i {
				before = max(before, j)
			} else {
				after = min(after, j)
			}
		}
		credit := make([]float64, len(lists[i]))
		for _, j := range [...]int{before, after} {
			if j >= 0 && j < len(in) {
				joinsOn(credit, in, lists, i, j)
			}
		}
		for k, c := range credit {
			lists[i][k].score += c
		}
		sortReadings(lists[i])
	}
}

// joinsOn raises the credit of every reading of stretch i to what it has for joining
// on to stretch to as that is read.
func joinsOn(credit []float64, in []*stretch, lists [][]reading, i, to int) {
	const mostJoined, wide = 12, 0.3 // nats, and of the logarithm of the rate
	x, y, pause := in[i].fit.Motion[0], last(in[to].fit.Motion), 0.0
	from, end := in[i].times()
	start, stop := in[to].times()
	if i < to {
		x, y, pause = last(in[i].fit.Motion), in[to].fit.Motion[0], start-end
	} else {
		pause = stop - from
	}
	apart := math.Abs(pause)
	if pause > 0 != (i < to) {
		pause, apart = 0, 0 // they overlap
	}
	changed := [2]float64{changeIn(pause, x), changeIn(pause, y)}
	// the longer the pause, the less the one says of the other
	most := mostJoined / (1 + apart/joinSeconds)
	for k, r := range lists[i] {
		if lists[i][0].score-r.score > most || r.den == 0 && in[i].alone != nil { // it is not there any more
			continue
		}
		d := math.Log(y.Omega * lists[to][0].ratio() / (x.Omega * r.ratio()))
		d = beyondChanges(d, changed) / wide
		credit[k] = math.Max(credit[k], most*math.Exp(-d*d/2))
	}
}

// changeIn returns by how much the logarithm of a rate may have changed in a pause, as
// it does at the end e of a stretch; for some time, and if that is known to change.
func changeIn(pause float64, e phase.Smooth) float64 {
	const longest = 0.3 // seconds
	if e.Alpha*e.Alpha < 4*e.AlphaVar {
		return 0
	}
	return math.Max(-longest, math.Min(longest, pause)) * e.Alpha / e.Omega
}

// beyondChanges returns what of a difference of two values neither of two changes
// explains, nor both together.
func beyondChanges(d float64, changes [2]float64) float64 {
	lo, hi := 0.0, 0.0
	for _, c := range changes {
		lo, hi = lo+math.Min(0, c), hi+math.Max(0, c)
	}
	return d - math.Max(lo, math.Min(hi, d))
}
