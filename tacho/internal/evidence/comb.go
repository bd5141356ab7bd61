package evidence

import "math"

// Order gives the prior of how many harmonics a comb has: a comb of at most m
// places ends after the L-th with a probability that falls slowly with L.
type Order struct{ logPrior []float64 }

// NewOrder tabulates the prior for combs of up to max places.
func NewOrder(max int) *Order {
	o := &Order{make([]float64, max+1)}
	for l := 1; l <= max; l++ {
		o.logPrior[l] = -math.Log(float64(l) + 1)
	}
	return o
}

// Most returns the largest number of places that the prior is tabulated for.
func (o *Order) Most() int { return len(o.logPrior) - 1 }

// Sum returns the evidence of a comb from the evidence of its places, each
// place m = 1..len(place): the average over the unknown number of harmonics
// L of the evidence that the first L places hold lines, as far as present,
// and the rest hold none.
func (o *Order) Sum(place []float64) float64 {
	n := len(place)
	if n == 0 {
		return 0
	}
	// log-sum-exp with a running maximum
	var norm, sum, run float64
	top := math.Inf(-1)
	for l := 1; l <= n; l++ {
		run += place[l-1]
		lp := o.logPrior[l]
		norm += math.Exp(lp)
		v := run + lp
		if v > top {
			sum = sum*math.Exp(top-v) + 1
			top = v
		} else if v > top-30 {
			sum += math.Exp(v - top)
		}
	}
	return top + math.Log(sum/norm)
}

// Weights returns for each place the probability that the comb reaches it.
func (o *Order) Weights(place []float64) []float64 {
	n := len(place)
	w := make([]float64, n)
	run, top := 0.0, math.Inf(-1)
	v := make([]float64, n)
	for l := 1; l <= n; l++ {
		run += place[l-1]
		v[l-1] = run + o.logPrior[l]
		top = math.Max(top, v[l-1])
	}
	sum := 0.0
	for l := n; l >= 1; l-- {
		sum += math.Exp(v[l-1] - top)
		w[l-1] = sum
	}
	for i := range w {
		w[i] /= sum
	}
	return w
}

// Max is a lower bound of Sum without its average: the evidence of the best
// number of harmonics. It is quick enough for a scan.
func (o *Order) Max(place []float64) float64 {
	run, top := 0.0, math.Inf(-1)
	for i, v := range place {
		run += v
		if w := run + o.logPrior[i+1]; w > top {
			top = w
		}
	}
	return top
}

// Log returns the logarithm of the prior weight of combs that end at l.
func (o *Order) Log(l int) float64 { return o.logPrior[l] }
