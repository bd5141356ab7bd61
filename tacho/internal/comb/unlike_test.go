package comb

import (
	"math"
	"math/rand/v2"
	"testing"
)

// shaftLines returns the logarithms of the power of the lines 1 to n of a shaft with z
// blades that make the same short pulse, of random strength and place with the given
// standard deviations: the sum over the blades, line by line.
func shaftLines(r *rand.Rand, z, n int, strengths, places float64) []float64 {
	g, p := make([]float64, z), make([]float64, z)
	for b := range g {
		g[b] = 1 + strengths*r.NormFloat64()
		p[b] = float64(b) + places*r.NormFloat64()
	}
	v := make([]float64, n)
	for k := range v {
		var re, im float64
		for b := range g {
			s, c := math.Sincos(2 * math.Pi * float64(k+1) * p[b] / float64(z))
			re, im = re+g[b]*c/float64(z), im+g[b]*s/float64(z)
		}
		v[k] = math.Log(re*re + im*im)
	}
	return v
}

// The closed form against many rotors drawn at random.
func TestRisesOfUnlikeBlades(t *testing.T) {
	const most, draws = 4, 4000
	r := rand.New(rand.NewPCG(1, 1))
	for _, z := range []int{3, 5, 8} {
		kinds := risesOf(z, most)
		for _, kind := range []int{6, 12, 13, 17} { // strengths and places: the middle of the grid
			g := leastStrengths * math.Pow(mostStrengths/leastStrengths, float64(kind/kindsOfUnlike)/(kindsOfUnlike-1))
			p := leastPlaces * math.Pow(mostPlaces/leastPlaces, float64(kind%kindsOfUnlike)/(kindsOfUnlike-1))
			var on, off [most]float64
			for range draws {
				v := shaftLines(r, z, most*z+1, g, p)
				for m := range most {
					k := (m+1)*z - 1
					on[m] += v[k] / draws
					off[m] += (v[k-1] + v[k+1]) / 2 / draws
				}
			}
			for m := range most {
				// normal strengths and places of a few blades sum to nearly normal
				// vectors, and a fixed vector among them counts by what is usual
				if got, want := kinds[kind][m], on[m]-off[m]; math.Abs(got-want) > 0.35 {
					t.Errorf("%d blades, strengths %.2g, places %.2g, line %d of the pulses: rise %.2f, drawn %.2f", z, g, p, m+1, got, want)
				}
			}
		}
	}
}

// Odds are odds: among as many shafts with unlike blades as stacks of one period,
// those that are called n times likelier to be shafts are shafts at least n times as
// often as not, or nearly so.
func TestPatternOddsAreOdds(t *testing.T) {
	const draws = 3000
	r := rand.New(rand.NewPCG(2, 2))
	for _, z := range []int{3, 5, 7} {
		var shafts, stacks [3]float64 // by odds: below 1:3, between, above 3:1
		count := func(v []float64) int {
			floor := math.Inf(-1)
			for _, x := range v {
				floor = math.Max(floor, x)
			}
			floor -= 9 // some 40 dB below the loudest, where the noise begins
			for i := range v {
				v[i] = math.Max(math.Log(4), v[i]-floor)
			}
			switch e := PatternOf(v, z); {
			case e < -math.Log(3):
				return 0
			case e > math.Log(3):
				return 2
			}
			return 1
		}
		for range draws {
			n := z * (3 + r.IntN(6))
			fall := 2 * r.Float64()
			shaft := shaftLines(r, z, n, 0.05*math.Pow(16, r.Float64()), 0.005*math.Pow(40, r.Float64()))
			stack := make([]float64, n)
			node := 0.0
			for k := range stack {
				if k%z == 0 {
					node = 0.6 * r.NormFloat64() // the sound of one pulse is not that smooth
				}
				stack[k] = 0.9*r.NormFloat64() - fall*math.Log(float64(k+1))
				shaft[k] += node - fall*math.Log(float64(k+1))
			}
			shafts[count(shaft)]++
			stacks[count(stack)]++
		}
		if shafts[2] < 3*stacks[2] || shafts[2] < draws/2 {
			t.Errorf("%d blades: called shafts %g shafts and %g stacks of %d each", z, shafts[2], stacks[2], draws)
		}
		if stacks[0] < 3*shafts[0] || stacks[0] < draws/2 {
			t.Errorf("%d blades: called stacks %g stacks and %g shafts of %d each", z, stacks[0], shafts[0], draws)
		}
	}
}

// Lines of unlike blades come again with every z-th; those of a stack, scattered,
// smooth or bent, do not.
func TestRecurrence(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	const draws = 400
	for _, z := range []int{4, 5, 7, 12} {
		seen, taken := 0, 0
		for range draws {
			if recurrence(shaftLines(r, z, 6*z, 0.4, 0.05), z) > 1 {
				seen++
			}
			stack := make([]float64, 6*z)
			scatter, bent := r.Float64(), 9*r.Float64()
			for k := range stack {
				x := float64(k+1) / float64(len(stack))
				stack[k] = scatter*r.NormFloat64() - bent*x*x
			}
			if recurrence(stack, z) > 1 {
				taken++
			}
		}
		if seen < draws*2/3 || taken > draws/100 {
			t.Errorf("%d blades: %d of %d shafts come again, and %d of as many stacks", z, seen, draws, taken)
		}
	}
	if e := recurrence([]float64{5, 3, 5, 3, 5, 3, 5, 3}, 2); e != 0 {
		t.Errorf("with one line in a gap there is nothing to compare, got %.2f", e)
	}
	nan := math.NaN()
	if e := recurrence([]float64{nan, nan, nan, 4, nan, nan, nan, 4, nan, nan}, 4); e != 0 {
		t.Errorf("without a line between there is nothing to compare, got %.2f", e)
	}
}
