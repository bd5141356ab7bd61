package comb

import "math"

// unlikeBlades are the rotors that lines of a shaft are weighed for: the standard
// deviations of their blades' strengths, relative, and of their places, as a part of
// the spacing, each evenly spread over a logarithmic scale.
const (
	leastStrengths, mostStrengths = 0.05, 0.8
	leastPlaces, mostPlaces       = 0.005, 0.2
	kindsOfUnlike                 = 5 // of either
)

// risesOf returns by how much the logarithm of the power of the m-th line of the
// pulses of z unlike blades stands above those of the lines between, m from 1, on the
// mean: for all kinds of unlike blades, and up to most of m.
//
// The line k of a shaft is the sum of z pulses of strength 1+g that are late by k(b+p)/z
// turns, b the blade's number, g and p drawn at random. Of its power d² is what they have
// in common where k is m z, with d = exp(-(2 pi m p)²/2) the mean of their turns, and
// (1+g²-d²)/z what is left to chance, everywhere. (Sums of vectors of random phases:
// Rayleigh, 1880.) A power by chance alone has a logarithm that lies 0.577 below that of
// its mean.
func risesOf(z, most int) [][]float64 {
	grid := func(lo, hi float64, i int) float64 {
		return lo * math.Pow(hi/lo, float64(i)/(kindsOfUnlike-1))
	}
	var out [][]float64
	for i := range kindsOfUnlike {
		g := grid(leastStrengths, mostStrengths, i)
		for k := range kindsOfUnlike {
			p := grid(leastPlaces, mostPlaces, k)
			h := make([]float64, most)
			for j := range h {
				x := 2 * math.Pi * float64(j+1) * p
				common := math.Exp(-x * x)
				chance := (1 + g*g - common) / float64(z)
				h[j] = math.Log1p(common/chance) + euler*common/(common+chance)
			}
			out = append(out, h)
		}
	}
	return out
}

// euler is Euler's constant.
const euler = 0.5772156649

// patternOdds returns the logarithm of the odds that lines are those of z unlike blades
// against one stack with strengths that follow no such rule, given how far those of the
// pulses rise above those between. The strengths of one stack scatter by some 4 dB from
// line to line, now and then by much more (Student's distribution with four degrees of
// freedom); those of lines by chance by 5.6 dB, as the logarithm of an exponential
// distribution does.
func patternOdds(rises []rise, z int) float64 {
	if len(rises) == 0 {
		return 0
	}
	const scatter, chance = 0.9, math.Pi / 2.449489742783178 // of the logarithm of a line's power
	student := func(x, scale float64) float64 {
		x /= scale
		return -2.5*math.Log1p(x*x/4) - math.Log(scale)
	}
	none := 0.0
	for _, c := range rises {
		none += student(c.by, scatter*math.Sqrt(1+1/c.others))
	}
	sum, kinds := 0.0, risesOf(z, len(rises))
	for _, h := range kinds {
		like := 0.0
		for j, c := range rises {
			like += student(c.by-h[j], math.Hypot(scatter, chance/math.Sqrt(c.others)))
		}
		sum += math.Exp(like - none)
	}
	return math.Log(sum / float64(len(kinds)))
}
