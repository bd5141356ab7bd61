package synth

import (
	"fmt"
	"math"
)

// Push is a drive that lasts for a while: a finger, an air jet, a string.
type Push struct {
	// Start and Seconds, in seconds, bound the push.
	Start   float64 `json:"start_s"`
	Seconds float64 `json:"seconds"`
	// Accel, in rev/s per second, is what the push gives to a rotor at rest.
	Accel float64 `json:"accel_rev_per_s2"`
	// Top, in rev/s, is the speed at which the push can give no more, such as
	// the speed of an air jet over the rotor's circumference. 0 means no limit.
	Top float64 `json:"top_rev_per_s,omitempty"`
	// Surge makes the beginning stronger by this factor, fading over a fifth of
	// the push: the speed then overshoots what the push can hold.
	Surge float64 `json:"surge,omitempty"`
	// Rise, in seconds, is how long the push takes to come and to go; 0 means
	// 0.1 s, at most a third of the push.
	Rise float64 `json:"rise_s,omitempty"`
}

// Brake is a constant deceleration for a while: a finger on the rim.
type Brake struct {
	Start   float64 `json:"start_s"`
	Seconds float64 `json:"seconds"`
	// Decel, in rev/s per second, is what the brake takes.
	Decel float64 `json:"decel_rev_per_s2"`
}

// Friction is the deceleration of a rotor left alone at fr rev/s:
//
//	Coulomb + Viscous fr + Quadratic fr^2   (rev/s per second)
//
// Coulomb (dry, constant) in rev/s^2, Viscous in 1/s, Quadratic (air) in 1/rev.
type Friction struct {
	Coulomb   float64 `json:"coulomb_rev_per_s2,omitempty"`
	Viscous   float64 `json:"viscous_per_s,omitempty"`
	Quadratic float64 `json:"quadratic_per_rev,omitempty"`
}

// Decel returns the deceleration, in rev/s per second, at speed rev/s.
func (f Friction) Decel(speed float64) float64 {
	return f.Coulomb + (f.Viscous+f.Quadratic*speed)*speed
}

// strength returns how hard the push drives at t, from 0 to 1 without surge.
func (p Push) strength(t float64) float64 {
	into, left := t-p.Start, p.Start+p.Seconds-t
	if into <= 0 || left <= 0 {
		return 0
	}
	rise := p.Rise
	if rise == 0 {
		rise = 0.1
	}
	rise = math.Min(rise, p.Seconds/3)
	s := 1.0
	if edge := math.Min(into, left); edge < rise {
		s = 0.5 - 0.5*math.Cos(math.Pi*edge/rise)
	}
	if p.Surge != 0 {
		s *= 1 + p.Surge*math.Exp(-5*into/p.Seconds)
	}
	return s
}

// slope is the right-hand side of the trial's equation of motion.
func (p Profile) slope(t, speed float64) float64 {
	a := -p.Friction.Decel(speed)
	for _, push := range p.Pushes {
		if s := push.strength(t); s > 0 {
			room := 1.0
			if push.Top > 0 {
				room = math.Max(0, 1-speed/push.Top)
			}
			a += push.Accel * s * room
		}
	}
	for _, b := range p.Brakes {
		if t >= b.Start && t < b.Start+b.Seconds {
			a -= b.Decel
		}
	}
	return a
}

// trialStep, in seconds, is the step of the integration and the spacing of the
// table. Friction cannot change a hand-driven rotor within it; the error of the
// fourth-order rule is far below the last digit of any recording.
const trialStep = 1e-3

// integrate solves the equation of motion by the classical Runge-Kutta rule of
// fourth order and keeps speed and slope on a regular grid.
func (p Profile) integrate(seconds float64) table {
	n := int(math.Ceil(seconds/trialStep)) + 2
	c := table{step: trialStep, value: make([]float64, n), slope: make([]float64, n)}
	v := p.Speed
	const h = trialStep
	for i := range n {
		t := float64(i) * h
		k1 := p.slope(t, v)
		if v <= 0 && k1 <= 0 { // at rest, and friction only opposes motion
			v, k1 = 0, 0
		}
		c.value[i], c.slope[i] = v, k1
		if v == 0 && k1 == 0 && p.slope(t+h, 0) <= 0 {
			continue
		}
		k2 := p.slope(t+h/2, math.Max(0, v+h/2*k1))
		k3 := p.slope(t+h/2, math.Max(0, v+h/2*k2))
		k4 := p.slope(t+h, math.Max(0, v+h*k3))
		v = math.Max(0, v+h/6*(k1+2*k2+2*k3+k4))
	}
	return c
}

func (p Profile) checkTrial() error {
	f := p.Friction
	if !(f.Coulomb >= 0 && f.Viscous >= 0 && f.Quadratic >= 0) || !finite(f.Decel(maxSpeed)) {
		return fmt.Errorf("profile %q: friction must not be negative", p.Kind)
	}
	for i, q := range p.Pushes {
		if !finite(q.Start) || !(q.Seconds > 0 && q.Seconds < 1e6) || !(q.Accel >= 0 && q.Accel <= maxSpeed) || !(q.Top >= 0) || !(q.Surge >= 0 && q.Surge <= 100) || !(q.Rise >= 0) {
			return fmt.Errorf("profile %q: push %d needs a start, a duration above zero, an acceleration from 0 to %g rev/s², and no negative top, surge or rise", p.Kind, i+1, maxSpeed)
		}
	}
	for i, b := range p.Brakes {
		if !finite(b.Start) || !(b.Seconds > 0) || !(b.Decel >= 0 && finite(b.Decel)) {
			return fmt.Errorf("profile %q: brake %d needs a start, a duration above zero and a deceleration of zero or more", p.Kind, i+1)
		}
	}
	return nil
}
