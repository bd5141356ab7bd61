package figure

import (
	"fmt"
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

// logTicks labels the powers of ten of an axis of exponents, with 2 and 5 times
// them where there are few, and marks their whole multiples.
type logTicks struct{}

// Ticks returns the ticks between the exponents from and to.
func (logTicks) Ticks(from, to float64) []plot.Tick {
	if !(to > from) || math.IsInf(from, 0) || math.IsInf(to, 0) {
		return nil
	}
	lo, hi := math.Pow(10, from), math.Pow(10, to)
	decades := to - from
	every := math.Max(1, math.Ceil(decades/8))
	var ticks []plot.Tick
	for e := math.Floor(from); e <= math.Ceil(to); e++ {
		for m := 1.0; m < 10; m++ {
			t := plot.Tick{Value: m * math.Pow(10, e)}
			if t.Value < lo*(1-1e-9) || t.Value > hi*(1+1e-9) {
				continue
			}
			if m == 1 && math.Mod(e, every) == 0 || decades < 3 && (m == 2 || m == 5) || decades < 0.7 {
				t.Label = logLabel(t.Value, e)
			}
			t.Value = math.Log10(t.Value)
			ticks = append(ticks, t)
		}
	}
	return ticks
}

// logLabel prints a tick of the decade e, as a plain number where that is short.
func logLabel(x, e float64) string {
	if e < -5 || e > 6 {
		sign := ""
		if e < 0 {
			sign = "−"
		}
		return fmt.Sprintf("%.0fe%s%.0f", x/math.Pow(10, e), sign, math.Abs(e))
	}
	return strconv.FormatFloat(x, 'f', int(math.Max(0, -e)), 64)
}

// nameTicks puts words under 0, 1, 2 …
type nameTicks []string

// Ticks returns the ticks between lo and hi.
func (n nameTicks) Ticks(lo, hi float64) []plot.Tick {
	var ticks []plot.Tick
	for i, name := range n {
		if x := float64(i); x >= lo && x <= hi {
			ticks = append(ticks, plot.Tick{Value: x, Label: name})
		}
	}
	return ticks
}
