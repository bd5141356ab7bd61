package comb

import (
	"math"

	"rotorhum/tacho/internal/evidence"
)

// secondHarmonics is the number of lines that a second stack is known by.
const secondHarmonics = 12

// ending is what it costs, in nats, that a second stack ends at one of its lines.
var ending = func() (c [secondHarmonics + 1]float64) {
	for m := range c {
		c[m] = math.Log(float64(m) + 1)
	}
	return c
}()

// Second looks for another stack between rates lo and hi (in orders) among the
// lines that do not belong to the stack of first. It returns the best one's rate
// and the evidence of its own lines, zero if there are fewer than two.
func (o *Orders) Second(first, lo, hi float64, line *evidence.Line) (rate, nats float64) {
	per := float64(o.Per)
	lo = math.Max(lo, lobe/per)
	told := o.told(line)
	for b := lo; b <= math.Min(hi, o.top()); b += math.Max(0.5, b/8) / (per * secondHarmonics) {
		best := o.second(told, first, b)
		// a multiple with nearly the same evidence has fewer gaps
		if best > nats || best > nats-2.5 && math.Abs(b/rate-math.Round(b/rate)) < 0.01 && b > 1.5*rate {
			rate, nats = b, best
		}
	}
	return rate, nats
}

// SecondAt returns the evidence of a stack of the given rate among the lines that
// do not belong to the stack of first, zero if there are fewer than two of them.
func (o *Orders) SecondAt(first, rate float64, line *evidence.Line) (nats float64) {
	return o.second(o.told(line), first, rate)
}

// second is SecondAt with the evidence of a line in every bin.
func (o *Orders) second(told []float64, first, rate float64) (nats float64) {
	run, clear, top := 0.0, 0, o.top()
	for m := 1; m <= secondHarmonics; m++ {
		x := rate * float64(m)
		if x > top {
			break
		}
		if near(x, first, float64(o.Per)) || o.hides(o.bin(x)) {
			continue
		}
		k := o.bin(x)
		if o.scores[k] > 8 {
			clear++
		}
		run += told[k]
		if v := run - ending[m]; v > nats && clear >= 2 {
			nats = v
		}
	}
	return nats
}

// top returns the highest order that there is.
func (o *Orders) top() float64 {
	return math.Min(o.Top, float64(len(o.Z)-2)/float64(o.Per))
}

// near reports whether order x lies on a multiple of base.
func near(x, base, per float64) bool {
	k := math.Floor(x/base + 0.5)
	return k >= 1 && math.Abs(x-k*base)*per <= 2
}

// mostLines is the number of lines of a stack that count for its power.
const mostLines = 40

// Power returns the power of the lines at multiples of base, without those that
// are multiples of but as well, if that is not 0.
func (o *Orders) Power(base, but float64) float64 {
	sum, per := 0.0, float64(o.Per)
	if base*per < lobe {
		return 0
	}
	for m := 1.0; m*base <= o.top() && m <= mostLines; m++ {
		x := m * base
		if but > 0 && x < (mostLines+0.5)*but && near(x, but, per) {
			continue
		}
		if o.score(x) > 8 {
			sum += o.Raw[o.bin(x)]
		}
	}
	return sum
}
