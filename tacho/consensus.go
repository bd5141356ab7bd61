package tacho

import (
	"fmt"
	"html"
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"
)

// Consensus is what several readings of one quantity, by several people or
// groups, say together.
type Consensus struct {
	// Value is the consensus: the mean, weighted by 1/(u² + τ²), with the
	// contribution "between" and what all readings share.
	Value Value
	// Between is τ, the standard deviation between the readings that their own
	// uncertainties do not explain; 0 where these explain all.
	Between float64
	// Q is the sum of the squared deviations from the mean that is weighted by
	// 1/u², and P how likely chance makes it as large if the uncertainties are
	// right (Cochran's test): below 0.05 something else is at work.
	Q, P float64
	// Fixed is that mean, which believes every uncertainty. Median is the middle
	// reading with the uncertainty that the scatter gives it: a few wild readings
	// hardly move it.
	Fixed, Median Value
	// Readings are the readings, in order, in the unit of the first.
	Readings []Value
	// Scores are their robust scores, (x - median)/(1.4826 MAD), and Outliers the
	// indices of those beyond ±3.5.
	Scores   []float64
	Outliers []int
	// Hints say of an outlier which slip would explain it.
	Hints []string
}

// outlierScore is the robust score from which a reading is marked (B. Iglewicz
// and D. Hoaglin 1993).
const outlierScore = 3.5

// Combined returns the consensus of independent readings with the method of J.
// Mandel and R. C. Paule (1970, 1982): the variance between the readings τ² is
// chosen so that the weighted sum of squares comes out as it should,
//
//	Σ (x - mean)²/(u² + τ²) = n - 1
//
// and is 0 if the readings agree already. The uncertainty of the mean is
// 1/√Σ 1/(u² + τ²), with n-1 degrees of freedom.
//
// By the rule of [Value], a contribution of the same name in all readings is one
// error that all share, such as that of the one ruler of the class: it has no
// part in the weights and stays in the result in full. What belongs to each
// reading alone must have a name of its own: use [Value.Named].
//
// Outliers are marked, not left out: find the cause first. [Consensus.Without]
// leaves readings out.
//
// It returns ErrTooShort for fewer than three readings, ErrUnit if their units
// differ in kind, ErrNotFinite, and ErrOption for a reading without an
// uncertainty of its own.
func Combined(readings ...Value) (*Consensus, error) {
	n := len(readings)
	if n < 3 {
		return nil, fmt.Errorf("%w: %s; a consensus needs at least 3", ErrTooShort, counted(n, "reading"))
	}
	c := &Consensus{}
	unit := readings[0].Unit
	for i, r := range readings {
		v, err := r.To(unit)
		if err != nil {
			return nil, fmt.Errorf("reading %d: %w", i+1, err)
		}
		if math.IsNaN(v.X) || math.IsInf(v.X, 0) || math.IsNaN(v.U()) || math.IsInf(v.U(), 0) {
			return nil, fmt.Errorf("%w: reading %d is %v", ErrNotFinite, i+1, v)
		}
		c.Readings = append(c.Readings, v)
	}
	shared := sharedNames(c.Readings)
	x, u := make([]float64, n), make([]float64, n)
	for i, v := range c.Readings {
		x[i] = v.X
		for _, p := range merge(v.Parts) {
			if !shared[p.Name] {
				u[i] = math.Hypot(u[i], p.U)
			}
		}
		if !(u[i] > 0) {
			return nil, optionError("reading %d, %v, has no uncertainty of its own: give it one with a name of its own", i+1, v)
		}
	}
	mean, sum, q := weightedMean(x, u, 0)
	c.Q, c.P = q, distuv.ChiSquared{K: float64(n - 1)}.Survival(q)
	c.Fixed = c.withShared(mean, math.Sqrt(1/sum), "readings", 0, x, u, 0, shared)
	tau2 := betweenVariance(x, u)
	c.Between = math.Sqrt(tau2)
	mean, sum, _ = weightedMean(x, u, tau2)
	c.Value = c.withShared(mean, math.Sqrt(1/sum), "between", float64(n-1), x, u, tau2, shared)
	c.robust(x)
	return c, nil
}

func sharedNames(readings []Value) map[string]bool {
	count := map[string]int{}
	for _, v := range readings {
		for _, p := range merge(v.Parts) {
			count[p.Name]++
		}
	}
	shared := map[string]bool{}
	for name, k := range count {
		shared[name] = k == len(readings)
	}
	return shared
}

// weightedMean returns the mean with weights 1/(u²+tau2), the sum of the weights
// and the weighted sum of the squared deviations.
func weightedMean(x, u []float64, tau2 float64) (mean, sum, q float64) {
	for i := range x {
		w := 1 / (u[i]*u[i] + tau2)
		sum += w
		mean += w * x[i]
	}
	mean /= sum
	for i := range x {
		d := x[i] - mean
		q += d * d / (u[i]*u[i] + tau2)
	}
	return mean, sum, q
}

// betweenVariance solves q(τ²) = n-1, where q falls with τ², by halving.
func betweenVariance(x, u []float64) float64 {
	want := float64(len(x) - 1)
	if _, _, q := weightedMean(x, u, 0); q <= want {
		return 0
	}
	hi := 0.0
	for i := range x {
		for j := range i {
			hi = math.Max(hi, (x[i]-x[j])*(x[i]-x[j]))
		}
	}
	lo := 0.0
	for range 200 {
		mid := (lo + hi) / 2
		if _, _, q := weightedMean(x, u, mid); q > want {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// withShared returns a mean with its own contribution and the mean of what the
// readings share.
func (c *Consensus) withShared(mean, own float64, name string, dof float64, x, u []float64, tau2 float64, shared map[string]bool) Value {
	v := Measured(mean, own, c.Readings[0].Unit, name)
	v.Parts[0].DOF = dof
	sum := 0.0
	for i := range x {
		sum += 1 / (u[i]*u[i] + tau2)
	}
	for i, r := range c.Readings {
		w := 1 / (u[i]*u[i] + tau2) / sum
		for _, p := range merge(r.Parts) {
			if shared[p.Name] {
				p.U *= w
				v.Parts = append(v.Parts, p)
			}
		}
	}
	v.Parts = merge(v.Parts)
	return v
}

// robust fills in the median, the scores and the outliers.
func (c *Consensus) robust(x []float64) {
	const normal = 1.4826 // MAD to standard deviation of a normal distribution
	middle := medianOf(x)
	away := make([]float64, len(x))
	for i, v := range x {
		away[i] = math.Abs(v - middle)
	}
	sd := normal * medianOf(away)
	// √(π/2) is the price of the median for normal readings.
	c.Median = Measured(middle, math.Sqrt(math.Pi/2)*sd/math.Sqrt(float64(len(x))), c.Readings[0].Unit, "scatter")
	c.Median.Parts[0].DOF = float64(len(x) - 1)
	for i, v := range x {
		score := 0.0
		if v != middle {
			score = (v - middle) / sd
		}
		c.Scores = append(c.Scores, score)
		if math.Abs(score) > outlierScore {
			c.Outliers = append(c.Outliers, i)
			if slip := slipOf(v / middle); slip != "" {
				c.Hints = append(c.Hints, fmt.Sprintf("reading %d is %s times the others: %s", i+1, slip, slips[slip]))
			}
		}
	}
}

func medianOf(x []float64) float64 {
	s := append([]float64(nil), x...)
	sort.Float64s(s)
	n := len(s)
	return (s[(n-1)/2] + s[n/2]) / 2
}

// slips are ratios that a slip makes, and the usual one.
var slips = map[string]string{
	"2": "the second line of the stack taken for the first, or the diameter for the radius", "1/2": "every second pulse missed, or half the pulses counted per turn",
	"3": "the third line taken for the first", "1/3": "every third pulse counted",
	"60": "per minute, not per second", "1/60": "per second, not per minute",
	"2π": "radians, not turns", "1/2π": "turns, not radians", "1000": "milli, not one", "1/1000": "one, not milli",
}

func slipOf(ratio float64) string {
	for name, r := range map[string]float64{"2": 2, "1/2": 0.5, "3": 3, "1/3": 1. / 3, "60": 60, "1/60": 1. / 60,
		"2π": 2 * math.Pi, "1/2π": 1 / (2 * math.Pi), "1000": 1000, "1/1000": 1e-3} {
		if math.Abs(ratio/r-1) < 0.03 {
			return name
		}
	}
	return ""
}

// Without returns the consensus without the readings at the given indices, such
// as Outliers. It returns the errors of Combined.
func (c *Consensus) Without(indices ...int) (*Consensus, error) {
	leave := map[int]bool{}
	for _, i := range indices {
		leave[i] = true
	}
	var rest []Value
	for i, r := range c.Readings {
		if !leave[i] {
			rest = append(rest, r)
		}
	}
	return Combined(rest...)
}

// String says what the readings say together.
func (c *Consensus) String() string {
	s := fmt.Sprintf("%s: %v", counted(len(c.Readings), "reading"), c.Value)
	if c.Between > 0 {
		s += fmt.Sprintf("; between them %s more than their uncertainties explain", withUnit(roundSig(c.Between, 2), c.Value.Unit))
	} else {
		s += "; their uncertainties explain how they differ"
	}
	s += "; median " + c.Median.String()
	for _, i := range c.Outliers {
		s += fmt.Sprintf("; reading %d, %v, stands apart", i+1, c.Readings[i])
	}
	for _, h := range c.Hints {
		s += "; " + h
	}
	return s
}

func roundSig(x float64, digits int) float64 {
	if x == 0 || math.IsInf(x, 0) || math.IsNaN(x) {
		return x
	}
	p := math.Pow10(digits - 1 - int(math.Floor(math.Log10(math.Abs(x)))))
	return math.Round(x*p) / p
}

// HTML shows the readings and what they say together.
func (c *Consensus) HTML() string {
	var rows [][]string
	for i, r := range c.Readings {
		mark := ""
		if math.Abs(c.Scores[i]) > outlierScore {
			mark = "stands apart"
		}
		rows = append(rows, []string{fmt.Sprint(i + 1), r.String(), fixed(c.Scores[i], 1), mark})
	}
	out := `<div class="rotorhum"><p><b>` + html.EscapeString(c.Value.String()) + "</b></p>" +
		htmlTable([]string{"reading", "value", "robust score", ""}, rows) +
		htmlTable(nil, [][]string{
			{"median", c.Median.String()},
			{"mean that believes every uncertainty", c.Fixed.String()},
			{"between the readings", withUnit(roundSig(c.Between, 2), c.Value.Unit)},
			{"chance that the uncertainties alone explain it", percent(math.Max(c.P, math.SmallestNonzeroFloat64))},
		})
	for _, h := range c.Hints {
		out += "<p>" + html.EscapeString(h) + "</p>"
	}
	return out + "</div>"
}
