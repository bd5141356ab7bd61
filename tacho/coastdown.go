package tacho

import (
	"cmp"
	"errors"
	"fmt"
	"html"
	"math"
	"sort"

	"rotorhum/tacho/internal/curvefit"
)

// CoastDown says which friction law explains best how a rotor slowed down.
type CoastDown struct {
	// From and To bound the stretch that was fitted, in seconds.
	From, To float64
	// T are the moments of the points in seconds, Speed their shaft speeds and
	// SpeedU the standard uncertainties that the track gives them, in rev/s.
	T, Speed, SpeedU []float64
	// Independent is how many independent readings the points are worth:
	// neighbouring points of a track are read from the same sound.
	Independent float64
	// Fits are the laws, the most credible first.
	Fits []FrictionFit
	// Refused are laws that would need a force that drives the rotor: a constant
	// came out negative. Each entry is a law and the reason.
	Refused []string
}

// FrictionFit is a friction law fitted to a coast-down.
type FrictionFit struct {
	Friction
	// Start is the shaft speed at the moment CoastDown.From, in rev/s.
	Start Value
	// RMS is the root mean square of the points less the law, in rev/s, with the
	// weights of the fit.
	RMS float64
	// Odds is how many times less credible the law is than the best one: 1 for
	// the best, at most 1e12.
	Odds float64

	from float64
}

// leastIndependent is how many independent readings beyond the number of
// constants a fit must rest on.
const leastIndependent = 3

// FitCoastDown fits friction laws to the part of track between from and to, in
// seconds: Coulomb, viscous and quadratic friction and all their mixtures. With
// to = 0 it takes the longest stretch without gaps from from on. The rotor must
// have been left alone all that time: a push or a finger is not noticed.
//
// Each law is fitted by least squares, the points weighted by their intervals.
// Neighbouring points share the same sound, so their errors are alike and n of
// them are worth fewer independent readings; how many is taken from the
// autocorrelation of what the law with all three terms leaves over (the
// integrated autocorrelation time with the window of A. Sokal 1989). The scatter
// that is left over scales the uncertainties, so an interval of the track that
// is too narrow does no harm. A reading that is wrong throughout, such as a
// multiple of the true speed, cannot be noticed.
//
// Odds compare laws by the information criterion of G. Schwarz 1978 for that
// many independent readings: a further constant must earn its place.
//
// It returns ErrNoReading for a track without points, ErrPulses, ErrTooShort if
// the points are worth too few independent readings, and ErrOption if the speed
// does not fall.
func FitCoastDown(track *Track, rotor Rotor, from, to float64) (*CoastDown, error) {
	return FitCoastDownWith(track, rotor, from, to, Watch{})
}

// FitCoastDownWith is [FitCoastDown] for a long track: it can be stopped, and
// show its progress law by law.
func FitCoastDownWith(track *Track, rotor Rotor, from, to float64, w Watch) (*CoastDown, error) {
	if track == nil || len(track.Points) == 0 {
		return nil, ErrNoReading
	}
	if err := rotor.checkPulses(); err != nil {
		return nil, err
	}
	if !(from >= 0) || !(to == 0 || to > from) {
		return nil, optionError("a coast-down from %g to %g s: the times must be in order, or the second 0 for all that follows", from, to)
	}
	c := coastPoints(track, rotor, from, to)
	n := len(c.T)
	if n < 8 {
		return nil, fmt.Errorf("%w: %s between %g and %g s; fit a longer stretch", ErrTooShort, counted(n, "point"), from, to)
	}
	if third := n / 3; !(meanOf(c.Speed[n-third:]) < meanOf(c.Speed[:third])) {
		return nil, optionError("from %.4g to %.4g s the speed does not fall: give the times between which the rotor was left alone", c.From, c.To)
	}
	full, err := c.fit([]int{0, 1, 2}, w)
	if err != nil {
		// Three terms are more than these points can tell apart.
		if full, err = c.fit([]int{0, 1}, w); err != nil {
			return nil, cmp.Or(w.stopped(), fmt.Errorf("%w: %v", ErrTooShort, err))
		}
	}
	c.Independent = independent(full.Residuals, len(full.P))
	if c.Independent < float64(len(full.P)+leastIndependent) {
		return nil, fmt.Errorf("%w: the points from %.4g to %.4g s are worth only %.0f independent readings; record a longer coast-down",
			ErrTooShort, c.From, c.To, c.Independent)
	}
	if err := c.weigh(w); err != nil {
		return nil, err
	}
	if len(c.Fits) == 0 {
		return nil, optionError("from %.4g to %.4g s no friction law fits: was the rotor left alone all that time?", c.From, c.To)
	}
	return c, nil
}

// coastPoints picks the longest stretch without gaps.
func coastPoints(track *Track, rotor Rotor, from, to float64) *CoastDown {
	z := float64(rotor.Pulses)
	best, c := &CoastDown{}, &CoastDown{}
	before := math.Inf(-1)
	for _, p := range track.Points {
		if p.T < from || to != 0 && p.T > to {
			continue
		}
		if p.T-before > 1.6*track.Step {
			c = &CoastDown{}
		}
		before = p.T
		c.T = append(c.T, p.T)
		c.Speed = append(c.Speed, float64(p.Tone)/z)
		c.SpeedU = append(c.SpeedU, math.Max(float64(p.Hi95-p.Lo95)/(2*1.96)/z, 1e-9*float64(p.Tone)/z))
		if len(c.T) > len(best.T) {
			best = c
		}
	}
	if n := len(best.T); n > 0 {
		best.From, best.To = best.T[0], best.T[n-1]
	}
	return best
}

// fit fits the law with the given terms. Once the watch has ended there is no
// curve any more, and the fit soon fails.
func (c *CoastDown) fit(terms []int, w Watch) (*curvefit.Fit, error) {
	n := len(c.T)
	third := max(1, n/3)
	early, late := meanOf(c.Speed[:third]), meanOf(c.Speed[n-third:])
	decel := (early - late) / (meanOf(c.T[n-third:]) - meanOf(c.T[:third]))
	mid := (early + late) / 2
	start := []float64{c.Speed[0]}
	for _, k := range terms { // each term takes an equal part of the mean slowing
		start = append(start, decel/math.Pow(mid, float64(k))/float64(len(terms)))
	}
	over := false
	return curvefit.Points(func(t float64, p, slope []float64) float64 {
		if over = over || w.stopped() != nil; over {
			return math.NaN()
		}
		return coastModel(terms, t-c.From, p, slope)
	}, c.T, c.Speed, c.SpeedU, start)
}

// coastModel is the speed after t seconds and its derivatives; p is the speed at
// the start and one constant for each of the terms.
func coastModel(terms []int, t float64, p, slope []float64) float64 {
	const h = 1e-30
	at := func(i int) complex128 {
		var c [3]complex128
		f := complex(p[0], 0)
		for j, k := range terms {
			c[k] = complex(p[j+1], 0)
			if j+1 == i {
				c[k] += complex(0, h)
			}
		}
		if i == 0 {
			f += complex(0, h)
		}
		return coast(c[0], c[1], c[2], f, t)
	}
	for i := range slope {
		slope[i] = imag(at(i)) / h
	}
	y := real(at(-1))
	if !(y > 0) { // past standstill there is no curve
		return math.NaN()
	}
	return y
}

// laws are the mixtures of terms.
var laws = [][]int{{0}, {1}, {2}, {0, 1}, {0, 2}, {1, 2}, {0, 1, 2}}

// weigh fits all laws and compares them.
func (c *CoastDown) weigh(w Watch) error {
	var criterion []float64
	n := float64(len(c.T))
	for i, terms := range laws {
		fit, err := c.fit(terms, w)
		if err := w.stopped(); err != nil {
			return err
		}
		w.told(float64(i+1) / float64(len(laws)))
		k := float64(len(terms) + 1)
		name := lawName(terms)
		if err != nil {
			why := "the points do not tell its constants apart"
			if !errors.Is(err, curvefit.ErrSingular) {
				why = "it does not come near the points"
			}
			c.Refused = append(c.Refused, name+": "+why)
			continue
		}
		if wrong := negative(terms, fit.P); wrong != "" {
			c.Refused = append(c.Refused, fmt.Sprintf("%s: its %s constant would have to be negative", name, wrong))
			continue
		}
		c.Fits = append(c.Fits, c.result(terms, fit))
		criterion = append(criterion, c.Independent*math.Log(fit.Chi2/n)+k*math.Log(c.Independent))
	}
	least := math.Inf(1)
	for _, x := range criterion {
		least = math.Min(least, x)
	}
	for i := range c.Fits {
		c.Fits[i].Odds = math.Min(math.Exp(math.Min((criterion[i]-least)/2, 100)), mostOdds)
	}
	sort.SliceStable(c.Fits, func(i, j int) bool { return c.Fits[i].Odds < c.Fits[j].Odds })
	return nil
}

// mostOdds is the odds beyond which a model's odds mean nothing.
const mostOdds = 1e12

func lawName(terms []int) string {
	s := ""
	for _, k := range terms {
		if s != "" {
			s += " + "
		}
		s += frictionNames[k]
	}
	return s
}

func negative(terms []int, p []float64) string {
	for j, k := range terms {
		if p[j+1] < 0 {
			return frictionNames[k]
		}
	}
	return ""
}

// result turns a fit into values whose uncertainties belong together.
func (c *CoastDown) result(terms []int, fit *curvefit.Fit) FrictionFit {
	k := len(fit.P)
	dof := math.Max(1, c.Independent-float64(k))
	scale := fit.Chi2 / dof
	cov := make([][]float64, k)
	units := []string{"rev/s"}
	for i := range cov {
		cov[i] = make([]float64, k)
		for j := range cov {
			cov[i][j] = scale * fit.Inverse.At(i, j)
		}
	}
	for _, t := range terms {
		units = append(units, frictionUnits[t])
	}
	v, err := Correlated("coast-down", units, fit.P, cov, dof)
	if err != nil { // a covariance cannot fail to be one
		panic(err)
	}
	out := FrictionFit{Start: v[0], from: c.From}
	for j, t := range terms {
		switch t {
		case 0:
			out.Coulomb = v[j+1]
		case 1:
			out.Viscous = v[j+1]
		case 2:
			out.Quadratic = v[j+1]
		}
	}
	weight := 0.0
	for _, u := range c.SpeedU {
		weight += 1 / (u * u)
	}
	out.RMS = math.Sqrt(fit.Chi2 / weight)
	return out
}

// independent returns how many independent readings the correlated residuals of
// a fit with k constants are worth: their number over s = 1 + 2 Σ ρ(j), with ρ
// the autocorrelation and the sum over lags j up to five times what it comes to
// (A. Sokal 1989, "Monte Carlo methods in statistical mechanics", lecture 3).
//
// The fit has taken k slow changes out of the residuals, which lowers every ρ by
// about k·s/n: that is put back. Without it, intervals of points that hang
// together for long hold the truth in 80 of 100 cases where 95 are promised.
func independent(r []float64, k int) float64 {
	n := len(r)
	lagged := func(j int) float64 {
		sum := 0.0
		for i := j; i < n; i++ {
			sum += r[i] * r[i-j]
		}
		return sum
	}
	c0 := lagged(0)
	if c0 == 0 {
		return float64(n)
	}
	var rho []float64
	s, lost := 1.0, 0.0
	for range 3 {
		s = 1
		for j := 1; j < n; j++ {
			if j > len(rho) {
				rho = append(rho, lagged(j)/c0)
			}
			s += 2 * (rho[j-1] + lost) / (1 + lost)
			if float64(j) >= 2.5*s {
				break
			}
		}
		s = math.Max(1, s)
		lost = math.Min(float64(k)*s/float64(n), 0.2)
	}
	return float64(n) / s
}

func meanOf(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// Best returns the most credible law.
func (c *CoastDown) Best() FrictionFit { return c.Fits[0] }

// Law returns the fit of the law of that name, such as "viscous" or "Coulomb +
// quadratic". It returns ErrOption, with the names there are, if there is none.
func (c *CoastDown) Law(name string) (FrictionFit, error) {
	var names []string
	for _, f := range c.Fits {
		if f.Name() == name {
			return f, nil
		}
		names = append(names, fmt.Sprintf("%q", f.Name()))
	}
	return FrictionFit{}, optionError("no fit of a law named %q; there are %v", name, names)
}

// Residuals returns the points less the law, in rev/s, one for each of T. What a
// right law leaves over wanders about 0 without a pattern.
func (c *CoastDown) Residuals(f FrictionFit) []float64 {
	out := make([]float64, len(c.T))
	v := f.values()
	for i, t := range c.T {
		y := real(coast(complex(v[0].X, 0), complex(v[1].X, 0), complex(v[2].X, 0), complex(f.Start.X, 0), t-f.from))
		out[i] = c.Speed[i] - math.Max(0, y)
	}
	return out
}

// String lists the laws, the most credible first.
func (c *CoastDown) String() string {
	s := fmt.Sprintf("coast-down from %.4g to %.4g s: %s, worth %.0f independent readings", c.From, c.To, counted(len(c.T), "point"), c.Independent)
	for _, f := range c.Fits {
		s += "\n  " + f.Friction.String() + " (" + oddsText(f.Odds) + ")"
	}
	for _, r := range c.Refused {
		s += "\n  refused: " + r
	}
	return s
}

func oddsText(odds float64) string {
	switch {
	case odds == 1:
		return "the most credible"
	case odds >= mostOdds:
		return "at least 10¹² times less credible"
	}
	digits := 1 // odds are exponentials of small differences
	if odds < 10 {
		digits = 2
	}
	return formatSig(odds, digits) + " times less credible"
}

// HTML shows the laws as a table.
func (c *CoastDown) HTML() string {
	var rows [][]string
	for _, f := range c.Fits {
		row := []string{f.Name()}
		for _, v := range f.values() {
			if v.X == 0 && len(v.Parts) == 0 {
				row = append(row, "")
			} else {
				row = append(row, v.String())
			}
		}
		rows = append(rows, append(row, formatSig(1000*f.RMS, uncertaintyDigits), oddsText(f.Odds)))
	}
	out := `<div class="rotorhum"><p>` + html.EscapeString(fmt.Sprintf("Coast-down from %.4g to %.4g s: %s, worth %.0f independent readings.",
		c.From, c.To, counted(len(c.T), "point"), c.Independent)) + "</p>" +
		htmlTable([]string{"law", "Coulomb", "viscous", "quadratic", "left over (mrev/s)", "credibility"}, rows)
	for _, r := range c.Refused {
		out += "<p>Refused: " + html.EscapeString(r) + "</p>"
	}
	return out + "</div>"
}

// At returns the shaft speed of the law in rev/s at time t in seconds of the
// recording; 0 after the rotor came to rest. Before the fitted stretch it is the
// speed at its beginning.
func (f FrictionFit) At(t float64) Value {
	v, err := f.SpeedAfter(f.Start, math.Max(0, t-f.from))
	if err != nil {
		return Exact(math.NaN(), "rev/s")
	}
	return v
}

// Rest returns the moment, in seconds of the recording, at which the rotor comes
// to rest by this law. It returns ErrOption if it never does.
func (f FrictionFit) Rest() (Value, error) {
	t, err := f.RunDown(f.Start, Exact(0, "rev/s"))
	if err != nil {
		return Value{}, err
	}
	return t.Add(Exact(f.from, "s")), nil
}
