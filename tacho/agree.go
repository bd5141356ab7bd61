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

// joining returns how much likelier the logarithm of a rate is to differ by d between
// two stretches next to each other, if it goes on from one to the next, than by any given
// amount if it need not. Half of those that go on do so smoothly, to within goesOn, the
// others to within nearly. Where frames lose a rotor it is pushed or braked one time in
// ten, and then its rate may change by a factor of four or so either way, anyhow: so much
// may a push be taken for, and no more does what joins on speak for a reading.
func joining(d float64) float64 {
	const (
		goesOn, nearly = 0.02, 0.3
		pushed, anyhow = 0.1, 3.0
	)
	normal := func(sd float64) float64 { return math.Exp(-d*d/(2*sd*sd)) / (sd * math.Sqrt(2*math.Pi)) }
	return (1 - pushed) * (normal(goesOn) + normal(nearly)) / 2 / (pushed / anyhow)
}

// joinsOn raises the credit of every reading of stretch i to what it has for joining
// on to stretch to as that is read.
func joinsOn(credit []float64, in []*stretch, lists [][]reading, i, to int) {
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
	less := 1 / (1 + apart/joinSeconds)
	most := math.Log1p(less * joining(0))
	for k, r := range lists[i] {
		if lists[i][0].score-r.score > most || r.den == 0 && in[i].alone != nil { // it is not there any more
			continue
		}
		d := math.Log(y.Omega * lists[to][0].ratio() / (x.Omega * r.ratio()))
		credit[k] = math.Max(credit[k], math.Log1p(less*joining(beyondChanges(d, changed))))
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
