package evidence

import "math"

// Alike is the evidence of lines that are about as loud as each other, how loud
// not being known: the power to noise ratio of each is exponentially distributed
// about one common mean, as that of lines with random amplitudes is. Lines that
// barely stand out say more together than one by one, since each shows where the
// others have to be looked for.
type Alike struct {
	levels []*Line
	weight []float64 // logarithm of the prior of each level
}

// alikeLevels are the means that are tried, from rhoMin on, each twice the last.
const alikeLevels = 9

// NewAlike makes the tables for lines that are present with probability present
// where a stranger's line is present with probability stranger.
func NewAlike(present, stranger float64) *Alike {
	a := &Alike{}
	_, other := tabled()
	_, b := densities()
	// the prior of a level is that of a line
	var all float64
	for rho := rhoMin; rho < rhoMax; rho *= 2 {
		all += math.Pow(rho, 1-lineTail)
	}
	rho := rhoMin
	for range alikeLevels {
		mean := 1 + rho
		density := func(z float64) float64 { return math.Exp(-z/mean) / mean }
		a.levels = append(a.levels, tabulate(present, stranger,
			func(i int) (float64, float64) { return density(float64(i) * zStep), other[i] },
			func(z float64) (float64, float64) { return density(z), b.at(z) }))
		a.weight = append(a.weight, math.Log(math.Pow(rho, 1-lineTail)/all))
		rho *= 2
	}
	return a
}

// Sum returns the evidence of a comb whose lines may be alike or not, one as
// credible as the other. Of its places m = 1..len(z), z holds the normalised powers in
// the channel in which lines are alike, of which each says by itself what line does, and
// rest what all other channels say, nil where there are none; o is the prior of their
// number.
func (a *Alike) Sum(o *Order, line *Line, z, rest []float64) float64 {
	place := make([]float64, len(z))
	sum := func(l *Line) float64 {
		for m, v := range z {
			if place[m] = l.At(v); rest != nil {
				place[m] = Join(place[m], rest[m])
			}
		}
		return o.Sum(place)
	}
	out := sum(line)
	for i, l := range a.levels {
		out = logAdd(out, sum(l)+a.weight[i])
	}
	return out - math.Ln2
}

// logAdd returns the logarithm of the sum of two numbers given by theirs.
func logAdd(a, b float64) float64 {
	return math.Max(a, b) + math.Log1p(math.Exp(-math.Abs(a-b)))
}
