package figure

import (
	"math"
	"strconv"

	"gonum.org/v1/plot"
)

// scaleTicks places labelled ticks at steps of 1, 2 or 5 times a power of ten,
// about want of them, with unlabelled ones between.
type scaleTicks struct {
	want int
	// times converts an axis value to the one printed; 0 stands for 1.
	times float64
}

// Ticks returns the ticks between lo and hi.
func (s scaleTicks) Ticks(lo, hi float64) []plot.Tick {
	k := s.times
	if k == 0 {
		k = 1
	}
	lo, hi = lo*k, hi*k
	step, minor := tickStep(hi-lo, s.want)
	if step == 0 {
		return nil
	}
	var ticks []plot.Tick
	const slack = 1e-9 // of a step: keeps a tick that rounding pushed off the end
	for i := math.Ceil(lo/step*float64(minor) - slack); i <= hi/step*float64(minor)+slack; i++ {
		x := i * step / float64(minor)
		t := plot.Tick{Value: x / k}
		if math.Mod(math.Abs(i), float64(minor)) == 0 {
			t.Label = tickLabel(x, step)
		}
		ticks = append(ticks, t)
	}
	return ticks
}

// tickStep returns the labelled step for about want steps over span, and into
// how many parts the unlabelled ticks divide it. The step is 0 if span is not
// a positive number.
func tickStep(span float64, want int) (step float64, minor int) {
	if !(span > 0) || math.IsInf(span, 0) {
		return 0, 0
	}
	raw := span / float64(want)
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	switch m := raw / power; {
	case m < math.Sqrt(2):
		return power, 5
	case m < math.Sqrt(10):
		return 2 * power, 4
	case m < math.Sqrt(50):
		return 5 * power, 5
	default:
		return 10 * power, 5
	}
}

// tickLabel prints x with the decimals that a step needs and a true minus sign.
func tickLabel(x, step float64) string {
	decimals := int(math.Max(0, -math.Floor(math.Log10(step)+1e-9)))
	s := strconv.FormatFloat(math.Abs(x), 'f', decimals, 64)
	if x < 0 && math.Abs(x) > step/1e6 {
		s = "−" + s
	}
	return s
}

// labelled returns the ticks that carry a label.
func labelled(ticks []plot.Tick) []plot.Tick {
	var out []plot.Tick
	for _, t := range ticks {
		if t.Label != "" {
			out = append(out, t)
		}
	}
	return out
}
