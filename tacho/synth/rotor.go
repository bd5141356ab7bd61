package synth

import (
	"fmt"
	"math"
)

// Rotor is a spinning thing and the sound it makes.
//
// Its sound is a sum of lines at the multiples k of the shaft speed. A rotor
// with z equal, evenly spaced blades has lines at k = z, 2z, 3z, ... only: the
// pulse rate and its harmonics. Unequal blades add the lines between them.
type Rotor struct {
	Name string `json:"name,omitempty"`
	// Pulses is z, the number of pulses per revolution; at least 1.
	Pulses int `json:"pulses_per_rev"`
	// TipRadius is in metres; it is only carried into the truth.
	TipRadius float64 `json:"tip_radius_m,omitempty"`
	// Profile is the speed over time. Speed, in rev/s as a function of seconds,
	// takes its place when set; it cannot be written to JSON.
	Profile Profile                 `json:"profile"`
	Speed   func(t float64) float64 `json:"-"`
	// StartTurn is the angle at the start, in turns.
	StartTurn float64 `json:"start_turn,omitempty"`

	// Harmonics are the amplitudes of the pulse rate (m = 1) and its harmonics,
	// relative to each other when Level is set, else absolute. A zero removes a
	// line. If there are none, PulseWidth makes them.
	Harmonics []float64 `json:"harmonics,omitempty"`
	// Phases, in radians, belong to Harmonics; missing ones are zero.
	Phases []float64 `json:"phases_rad,omitempty"`
	// RandomPhases draws the phases, and the starting angle, from the seed.
	RandomPhases bool `json:"random_phases,omitempty"`
	// PulseWidth is the length of one blade's pulse as a part of the time between
	// two blades: the standard deviation of a Gaussian pulse. 0 means 0.12.
	// Narrow pulses have many harmonics.
	PulseWidth float64 `json:"pulse_width,omitempty"`
	// Missing lists harmonic numbers m to remove; 1 removes the pulse-rate line.
	Missing []int `json:"missing,omitempty"`

	// GainSpread and AngleSpread are the standard deviations of the blades'
	// strengths (relative) and of their places (as a part of the spacing). They
	// are drawn from the seed unless BladeGains and BladeShifts give them, one
	// number for each blade: relative strength, and shift in spacings.
	GainSpread  float64   `json:"gain_spread,omitempty"`
	AngleSpread float64   `json:"angle_spread,omitempty"`
	BladeGains  []float64 `json:"blade_gains,omitempty"`
	BladeShifts []float64 `json:"blade_shifts,omitempty"`
	// Jitter is the standard deviation by which single pulses come early or late, each on
	// its own, as a part of the spacing: a card that flaps, a loose blade. It is no change
	// of speed, and the truth knows nothing of it.
	Jitter float64 `json:"jitter,omitempty"`
	// OncePerTurn is the amplitude of a line at the shaft speed itself, relative
	// to the strongest harmonic of the pulse rate.
	OncePerTurn float64 `json:"once_per_turn,omitempty"`
	// Lines are further lines at any order, amplitudes relative to the strongest
	// harmonic of the pulse rate: a motor, a bearing.
	Lines []Line `json:"lines,omitempty"`

	// Level is the RMS value of all lines together at the highest speed; 0 leaves
	// Harmonics as they are, or means 0.1 where PulseWidth makes them. For a
	// second and later rotor see LevelDB.
	Level float64 `json:"level,omitempty"`
	// LevelDB, for the second and later rotors without a Level, is the power of
	// its lines over that of the first rotor's, mean over the time each turns.
	LevelDB float64 `json:"level_db,omitempty"`
	// Growth p makes the amplitude follow (fr/highest fr)^p. 0 keeps it constant,
	// 1 to 3 are usual for air. Whatever it is, a rotor at rest is silent: below
	// 2 % of its highest speed the sound fades away.
	Growth float64 `json:"growth,omitempty"`
	// Beat is a slow, regular rise and fall of the sound.
	Beat *Beat `json:"beat,omitempty"`
	// Waver is a random rise and fall of the sound, in dB (standard deviation),
	// within 0.3 to 4 times per second.
	Waver float64 `json:"waver_db,omitempty"`
	// Jet is the rush of air through the blades.
	Jet *Jet `json:"jet,omitempty"`
}

// Line is a line of a rotor's sound at order Order: Order times the shaft speed.
type Line struct {
	Order     int     `json:"order"`
	Amplitude float64 `json:"amplitude"`
	Phase     float64 `json:"phase_rad,omitempty"`
}

// defaultPulseWidth, defaultLevel: see Rotor.
const (
	defaultPulseWidth = 0.12
	defaultLevel      = 0.1
	restFraction      = 0.02 // of the highest speed, below which the sound fades
	maxOrders         = 20000
)

// loudness returns the amplitude factor at speed fr when top is the highest.
func (r Rotor) loudness(fr, top float64) float64 {
	if !(fr > 0) || !(top > 0) {
		return 0
	}
	x := fr / top
	g := 1.0
	switch r.Growth {
	case 0:
	case 1:
		g = x
	case 2:
		g = x * x
	case 3:
		g = x * x * x
	default:
		g = math.Pow(x, r.Growth)
	}
	if x < restFraction {
		u := x / restFraction
		g *= u * u * (3 - 2*u)
	}
	return g
}

func (r Rotor) check(which int, fs float64) error {
	bad := func(format string, args ...any) error {
		return fmt.Errorf("rotor %d: "+format, append([]any{which}, args...)...)
	}
	if r.Pulses < 1 || r.Pulses > 1000 {
		return bad("pulses_per_rev is %d; give the number of blades, holes or teeth, from 1 to 1000", r.Pulses)
	}
	if !(r.TipRadius >= 0 && r.TipRadius < 1000) {
		return bad("tip_radius_m is %v; give the radius in metres, or leave it out", r.TipRadius)
	}
	if len(r.Harmonics)*r.Pulses > maxOrders {
		return bad("%d harmonics of %d pulses are more than %d lines", len(r.Harmonics), r.Pulses, maxOrders)
	}
	for i, a := range r.Harmonics {
		if !(a >= 0 && finite(a)) {
			return bad("harmonic %d has amplitude %v; amplitudes are zero or more", i+1, a)
		}
	}
	if len(r.Phases) > len(r.Harmonics) {
		return bad("%d phases for %d harmonics", len(r.Phases), len(r.Harmonics))
	}
	if r.PulseWidth != 0 && !(r.PulseWidth >= 0.005 && r.PulseWidth <= 1) {
		return bad("pulse_width is %v; give a part of the blade spacing from 0.005 to 1", r.PulseWidth)
	}
	if !(r.GainSpread >= 0 && r.GainSpread <= 1) || !(r.AngleSpread >= 0 && r.AngleSpread <= 0.4) {
		return bad("gain_spread must be from 0 to 1 and angle_spread from 0 to 0.4")
	}
	if !(r.Jitter >= 0 && r.Jitter <= 0.1) {
		return bad("jitter is %v; give a part of the blade spacing from 0 to 0.1", r.Jitter)
	}
	if r.BladeGains != nil && len(r.BladeGains) != r.Pulses || r.BladeShifts != nil && len(r.BladeShifts) != r.Pulses {
		return bad("blade_gains and blade_shifts need one number for each of the %d blades", r.Pulses)
	}
	for _, x := range append(append([]float64{r.StartTurn, r.LevelDB}, r.Phases...), append(r.BladeGains, r.BladeShifts...)...) {
		if !(math.Abs(x) < 1e6) {
			return bad("%v is not a usable number for an angle, a level, a gain or a shift", x)
		}
	}
	for _, l := range r.Lines {
		if l.Order < 1 || l.Order > maxOrders || !(l.Amplitude >= 0 && finite(l.Amplitude)) || !finite(l.Phase) {
			return bad("a line needs an order from 1 to %d and an amplitude of zero or more", maxOrders)
		}
	}
	if !(r.OncePerTurn >= 0 && r.OncePerTurn < 1e6) || !(r.Level >= 0 && r.Level < 1e6) {
		return bad("once_per_turn and level must be zero or more")
	}
	if !(r.Growth >= 0 && r.Growth <= 10) {
		return bad("growth is %v; give a power from 0 to 10", r.Growth)
	}
	if !(r.Waver >= 0 && r.Waver <= 12) {
		return bad("waver_db is %v; give a number from 0 to 12", r.Waver)
	}
	if r.Beat != nil {
		if err := r.Beat.check(); err != nil {
			return bad("%w", err)
		}
	}
	if r.Jet != nil {
		if err := r.Jet.check(fs); err != nil {
			return bad("%w", err)
		}
	}
	return nil
}
