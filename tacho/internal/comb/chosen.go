package comb

import "math"

// Chosen returns the evidence, in nats, against z unlike blades where of the lines between
// those of their pulses, at multiples of base, only those stand out that make one stack
// with the pulses', as if blades were in sets of like ones, or as if these were the lines
// of slower pulses; 0 where they do not.
//
// The lines of a shaft that are as far from the pulses' as each other have a strength in
// common, and that of blades which have nothing to do with each other is one of chance,
// exponentially distributed (sums of vectors of random phases: Rayleigh, 1880). That n of
// them are r1, r2 and so on times weaker than another has then a chance of n!/(r1 r2...),
// for r well above 1: the integral of exp(-x) (x/r1) (x/r2)... A chance of p is evidence
// of odds of -e p ln p at most (Sellke, Bayarri and Berger 2001, The American Statistician
// 55: 62, from memory).
func (o *Orders) Chosen(base float64, z int) (nats float64) {
	v := upToLast(o.strengths(base, z))
	for k := 2; 2*k <= z; k++ { // every k-th is there
		if z%k == 0 {
			nats = math.Max(nats, chosen(v, z, k))
		}
	}
	if nats < 1 {
		return 0
	}
	return nats - 1 - math.Log(nats)
}

// chosen returns minus the logarithm of that chance for the logarithms v of the lines'
// power, where every k-th of them is there.
func chosen(v []float64, z, k int) (nats float64) {
	power, n := make([]float64, z/2+1), make([]float64, z/2+1) // by the distance from the pulses
	there, count := 0.0, 0.0                                   // of those that are there
	for i, x := range v {
		m := i + 1
		j := min(m%z, z-m%z)
		if m == 1 || j == 0 || math.IsNaN(x) {
			continue // the first line of all may be of any strength, for unbalance
		}
		if m%k == 0 {
			there += math.Exp(x)
			count++
			continue
		}
		power[j] += math.Exp(x)
		n[j]++
	}
	others := 0.0
	for j := range n {
		if n[j] > 0 && count > 0 {
			others++
			nats += math.Max(0, math.Log(there/count/(power[j]/n[j])))
		}
	}
	arranged, _ := math.Lgamma(others + 1)
	return math.Max(0, nats-arranged)
}
