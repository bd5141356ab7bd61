package tacho

import (
	"cmp"
	"fmt"
	"math"
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
