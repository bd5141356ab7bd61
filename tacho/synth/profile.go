package synth

import (
	"fmt"
	"math"
)

// Kinds of speed profile.
const (
	KindSteady      = "steady"      // Speed throughout
	KindRamp        = "ramp"        // linear from From to To, from Start for Seconds
	KindExponential = "exponential" // equal ratios in equal times from From to To
	KindTrial       = "trial"       // pushes and brakes against friction, from Speed
	KindPoints      = "points"      // smooth curve through Points
)

// Profile says how fast a rotor turns at every moment. It holds data only, so
// that it can be written to and read from JSON; the ready makers are [Steady],
// [Ramp], [ExponentialRamp], [Trial], [CoastDown] and [Through].
//
// Fields that the kind does not use are ignored.
type Profile struct {
	// Kind is one of the Kind constants.
	Kind string `json:"kind"`
	// Speed, in rev/s, is the steady speed, or the speed at which a trial begins.
	Speed float64 `json:"rev_per_s,omitempty"`
	// From and To, in rev/s, are the ends of a ramp.
	From float64 `json:"from_rev_per_s,omitempty"`
	To   float64 `json:"to_rev_per_s,omitempty"`
	// Start, in seconds, is when a ramp begins; before it the speed is From.
	Start float64 `json:"start_s,omitempty"`
	// Seconds is how long a ramp lasts; after it the speed is To.
	Seconds float64 `json:"seconds,omitempty"`
	// Pushes drive a trial and Brakes hold it back.
	Pushes []Push  `json:"pushes,omitempty"`
	Brakes []Brake `json:"brakes,omitempty"`
	// Friction slows a trial at all times.
	Friction Friction `json:"friction,omitzero"`
	// Points are the knots of a curve, in order of time.
	Points []Point `json:"points,omitempty"`
	// Wow multiplies the speed by 1 + the sum of these slow waves.
	Wow []Wow `json:"wow,omitempty"`
	// Unsteady adds random slow waves, drawn from the scene's seed.
	Unsteady Unsteady `json:"unsteady,omitzero"`
}

// Point is a shaft speed at a time.
type Point struct {
	T     float64 `json:"t_s"`       // seconds
	Speed float64 `json:"rev_per_s"` // revolutions per second
}

// Wow is a slow periodic change of speed, in relative terms: Depth 0.01 is one
// per cent up and down, Rate times per second.
type Wow struct {
	Rate  float64 `json:"rate_hz"`
	Depth float64 `json:"depth"`
	Phase float64 `json:"phase_rad,omitempty"`
}

// Unsteady is a random wander of the speed with relative standard deviation RMS,
// made of waves between Low and High hertz. Zero Low and High mean 0.2 and 3 Hz.
type Unsteady struct {
	RMS  float64 `json:"rms,omitempty"`
	Low  float64 `json:"low_hz,omitempty"`
	High float64 `json:"high_hz,omitempty"`
}

// Steady returns the profile of a rotor that keeps to speed rev/s.
func Steady(speed float64) Profile { return Profile{Kind: KindSteady, Speed: speed} }

// Ramp returns a profile that holds from rev/s, then changes linearly to to
// rev/s between start and start+seconds, then holds that.
func Ramp(from, to, start, seconds float64) Profile {
	return Profile{Kind: KindRamp, From: from, To: to, Start: start, Seconds: seconds}
}

// ExponentialRamp is [Ramp] with a constant relative change per second:
// both speeds must be above zero.
func ExponentialRamp(from, to, start, seconds float64) Profile {
	return Profile{Kind: KindExponential, From: from, To: to, Start: start, Seconds: seconds}
}

// Trial returns the profile of a rotor at rest that is driven by pushes against
// friction. The speed obeys
//
//	dfr/dt = sum over pushes of a(t) max(0, 1 - fr/top) - friction(fr) - brakes
//
// and never goes below zero.
func Trial(friction Friction, pushes ...Push) Profile {
	return Profile{Kind: KindTrial, Pushes: pushes, Friction: friction}
}

// CoastDown returns the profile of a rotor left alone at speed rev/s at time 0:
// a trial without pushes.
func CoastDown(speed float64, friction Friction) Profile {
	return Profile{Kind: KindTrial, Speed: speed, Friction: friction}
}

// Through returns a smooth profile through points, which must be in order of
// time. Between them the curve rises or falls only where the points do
// (monotone cubic); before the first and after the last the speed is held.
func Through(points ...Point) Profile { return Profile{Kind: KindPoints, Points: points} }

// Braked returns p with brakes added. It is meant for trials.
func (p Profile) Braked(brakes ...Brake) Profile {
	p.Brakes = append(append([]Brake(nil), p.Brakes...), brakes...)
	return p
}

// Wobbling returns p with slow periodic changes of speed added.
func (p Profile) Wobbling(w ...Wow) Profile {
	p.Wow = append(append([]Wow(nil), p.Wow...), w...)
	return p
}

// Curve returns the speed in rev/s as a function of time in seconds, good from
// 0 to seconds; outside, the value at the nearer end. It returns an error that
// names the field when the profile makes no sense.
//
// seed fixes the random part ([Unsteady]).
func (p Profile) Curve(seconds float64, seed uint64) (func(t float64) float64, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	var base func(float64) float64
	switch p.Kind {
	case KindSteady:
		speed := p.Speed
		base = func(float64) float64 { return speed }
	case KindRamp:
		base = func(t float64) float64 { return p.From + (p.To-p.From)*p.progress(t) }
	case KindExponential:
		rise := math.Log(p.To / p.From)
		base = func(t float64) float64 { return p.From * math.Exp(rise*p.progress(t)) }
	case KindTrial:
		solved := p.integrate(seconds)
		// Where the rotor comes to rest the cubic may dip below zero by a hair.
		base = func(t float64) float64 { return math.Max(0, solved.at(t)) }
	case KindPoints:
		base = monotone(p.Points).at
	}
	if len(p.Wow) == 0 && p.Unsteady.RMS == 0 {
		return base, nil
	}
	wander := func(float64) float64 { return 0 }
	if u := p.Unsteady; u.RMS != 0 {
		low, high := u.band()
		wander = sampleWaves(waves(stream(seed, streamUnsteady, 0), u.RMS, low, high), seconds).at
	}
	return func(t float64) float64 {
		g := 1 + wander(t)
		for _, w := range p.Wow {
			g += w.Depth * math.Sin(2*math.Pi*w.Rate*t+w.Phase)
		}
		return base(t) * math.Max(0, g)
	}, nil
}

func (u Unsteady) band() (low, high float64) {
	low, high = u.Low, u.High
	if low == 0 {
		low = 0.2
	}
	if high == 0 {
		high = math.Max(3, low)
	}
	return low, high
}

// progress returns the part of a ramp that is done at t, between 0 and 1.
func (p Profile) progress(t float64) float64 {
	if p.Seconds <= 0 {
		if t < p.Start {
			return 0
		}
		return 1
	}
	return math.Min(1, math.Max(0, (t-p.Start)/p.Seconds))
}

func (p Profile) check() error {
	bad := func(field string, v float64, want string) error {
		return fmt.Errorf("profile %q: %s is %v; %s", p.Kind, field, v, want)
	}
	speeds := []struct {
		field string
		v     float64
	}{{"rev_per_s", p.Speed}, {"from_rev_per_s", p.From}, {"to_rev_per_s", p.To}}
	for _, s := range speeds {
		if !(s.v >= 0 && s.v <= maxSpeed) {
			return bad(s.field, s.v, fmt.Sprintf("give a speed from 0 to %g rev/s", maxSpeed))
		}
	}
	if !finite(p.Start) {
		return bad("start_s", p.Start, "give a time in seconds")
	}
	if !(p.Seconds >= 0) || math.IsInf(p.Seconds, 0) {
		return bad("seconds", p.Seconds, "give a duration of zero or more")
	}
	if p.Kind == KindExponential && (p.From == 0 || p.To == 0) {
		return fmt.Errorf("profile %q: both ends must be above zero; a start from rest is a %q or a %q", p.Kind, KindRamp, KindTrial)
	}
	for i, w := range p.Wow {
		if !(w.Rate >= 0 && w.Rate <= 1000) || !(math.Abs(w.Depth) < 1) || !finite(w.Phase) {
			return fmt.Errorf("profile %q: wow %d needs a rate from 0 to 1000 Hz and a depth below 1", p.Kind, i+1)
		}
	}
	u := p.Unsteady
	if !(u.RMS >= 0 && u.RMS < 0.2) || !(u.Low >= 0 && u.Low <= 1000) || !(u.High >= 0 && u.High <= 1000) {
		return fmt.Errorf("profile %q: unsteady needs an rms from 0 to 0.2 and rates up to 1000 Hz", p.Kind)
	}
	switch p.Kind {
	case KindSteady, KindRamp, KindExponential:
		return nil
	case KindTrial:
		return p.checkTrial()
	case KindPoints:
		return checkPoints(p.Points)
	case "":
		return fmt.Errorf("profile: no kind; give one of %q, %q, %q, %q, %q", KindSteady, KindRamp, KindExponential, KindTrial, KindPoints)
	}
	return fmt.Errorf("profile: unknown kind %q; give one of %q, %q, %q, %q, %q", p.Kind, KindSteady, KindRamp, KindExponential, KindTrial, KindPoints)
}

// maxSpeed, in rev/s, bounds what we are ready to call a rotor: half a million
// revolutions per minute and more.
const maxSpeed = 1e4

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
