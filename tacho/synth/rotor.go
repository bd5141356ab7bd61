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

// timbre is a rotor's sound at full level: the complex amplitude of every order
// that is a multiple of stride, from stride upwards.
type timbre struct {
	stride int
	re, im []float64
	power  []float64 // power[j]: of the first j lines
}

// lines returns the rotor's lines at full level, in order of k, without zeros.
func (r Rotor) lines(seed uint64, index int) []Line {
	amp, phase := r.harmonics(seed, index)
	z := r.Pulses
	top := (len(amp) - 1) * z
	gains, shifts := r.blades(seed, index)
	re, im := make([]float64, top+1), make([]float64, top+1)
	strongest := 0.0
	for _, a := range amp {
		strongest = math.Max(strongest, a)
	}
	for k := 1; k <= top; k++ {
		if gains == nil && k%z != 0 {
			continue
		}
		// One blade's own pulse has this amplitude and phase at order k.
		m, part := k/z, float64(k%z)/float64(z)
		a, p := amp[m], phase[m]
		if part > 0 {
			a += part * (amp[m+1] - amp[m])
			p += part * (phase[m+1] - phase[m])
		}
		// All blades together: each is late by its place on the rotor.
		sr, si := 1.0, 0.0
		if gains != nil {
			sr, si = 0, 0
			for b, g := range gains {
				s, c := math.Sincos(-2 * math.Pi * float64(k) * (float64(b) + shifts[b]) / float64(z))
				sr += g * c / float64(z)
				si += g * s / float64(z)
			}
		}
		s, c := math.Sincos(p)
		re[k], im[k] = a*(sr*c-si*s), a*(sr*s+si*c)
	}
	for _, m := range r.Missing {
		if k := m * z; m >= 1 && k <= top {
			re[k], im[k] = 0, 0
		}
	}
	extra := r.Lines
	if r.OncePerTurn != 0 {
		extra = append([]Line{{Order: 1, Amplitude: r.OncePerTurn}}, extra...)
	}
	for _, l := range extra {
		for l.Order >= len(re) {
			re, im = append(re, 0), append(im, 0)
		}
		s, c := math.Sincos(l.Phase)
		re[l.Order] += strongest * l.Amplitude * c
		im[l.Order] += strongest * l.Amplitude * s
	}
	var out []Line
	power := 0.0
	for k := 1; k < len(re); k++ {
		if a := math.Hypot(re[k], im[k]); a > 1e-6*strongest {
			out = append(out, Line{Order: k, Amplitude: a, Phase: math.Atan2(im[k], re[k])})
			power += a * a / 2
		}
	}
	level := r.Level
	if level == 0 && len(r.Harmonics) == 0 {
		level = defaultLevel
	}
	if level > 0 && power > 0 {
		g := level / math.Sqrt(power)
		for i := range out {
			out[i].Amplitude *= g
		}
	}
	return out
}

// harmonics returns amplitude and phase at m = 0 ... M. The entry at 0 stands
// for orders below the pulse rate that unequal blades excite.
func (r Rotor) harmonics(seed uint64, index int) (amp, phase []float64) {
	if n := len(r.Harmonics); n > 0 {
		amp, phase = make([]float64, n+1), make([]float64, n+1)
		copy(amp[1:], r.Harmonics)
		copy(phase[1:], r.Phases)
	} else {
		width := r.PulseWidth
		if width == 0 {
			width = defaultPulseWidth
		}
		// The Fourier series of Gaussian pulses, to 60 dB below the first line.
		for m := 0; ; m++ {
			x := 2 * math.Pi * float64(m) * width
			a := math.Exp(-x * x / 2)
			if m > 1 && a < 1e-3*amp[1] || m*r.Pulses > maxOrders {
				break
			}
			amp = append(amp, a)
		}
		phase = make([]float64, len(amp))
	}
	if r.RandomPhases {
		rnd := stream(seed, streamPhases, index)
		for m := 1; m < len(phase); m++ {
			phase[m] = 2 * math.Pi * rnd.Float64()
		}
	}
	if amp[0] == 0 {
		for _, a := range amp[1:] {
			amp[0] = math.Max(amp[0], a)
		}
	}
	return amp, phase
}

// blades returns strength and shift of every blade, nil when all are alike.
func (r Rotor) blades(seed uint64, index int) (gains, shifts []float64) {
	if r.GainSpread == 0 && r.AngleSpread == 0 && r.BladeGains == nil && r.BladeShifts == nil {
		return nil, nil
	}
	gains, shifts = make([]float64, r.Pulses), make([]float64, r.Pulses)
	rnd := stream(seed, streamBlades, index)
	for b := range gains {
		gains[b] = math.Max(0.05, 1+r.GainSpread*rnd.NormFloat64())
		shifts[b] = math.Max(-0.4, math.Min(0.4, r.AngleSpread*rnd.NormFloat64()))
	}
	if r.BladeGains != nil {
		copy(gains, r.BladeGains)
	}
	if r.BladeShifts != nil {
		copy(shifts, r.BladeShifts)
	}
	return gains, shifts
}

// newTimbre packs lines for evaluation as a polynomial in exp(2 pi i stride turn).
func newTimbre(lines []Line) timbre {
	t := timbre{}
	for _, l := range lines {
		t.stride = gcd(t.stride, l.Order)
	}
	if t.stride == 0 {
		return timbre{stride: 1, power: []float64{0}}
	}
	n := lines[len(lines)-1].Order / t.stride
	t.re, t.im, t.power = make([]float64, n), make([]float64, n), make([]float64, n+1)
	for _, l := range lines {
		j := l.Order/t.stride - 1
		s, c := math.Sincos(l.Phase)
		t.re[j], t.im[j] = l.Amplitude*c, l.Amplitude*s
	}
	for j := range n {
		t.power[j+1] = t.power[j] + (t.re[j]*t.re[j]+t.im[j]*t.im[j])/2
	}
	return t
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// The highest lines fade between these parts of the sample rate, so that no
// line ever folds back from half the rate.
const (
	fadeFrom = 0.45
	fadeTo   = 0.495
)

// at returns the sound at an angle of turn turns, with lines fading out where
// they come near half the sample rate. rate is the shaft speed over the sample
// rate, in turns per sample.
func (t timbre) at(turn, rate float64) float64 {
	n := len(t.re)
	s, c := math.Sincos(2 * math.Pi * math.Mod(turn*float64(t.stride), 1))
	step := rate * float64(t.stride)
	var yr, yi float64
	if step*float64(n) > fadeFrom {
		if keep := int(fadeTo / step); keep < n {
			n = keep
		}
		for j := n - 1; j >= 0; j-- {
			x := step * float64(j+1)
			if x <= fadeFrom {
				break
			}
			w := 0.5 + 0.5*math.Cos(math.Pi*(x-fadeFrom)/(fadeTo-fadeFrom))
			yr, yi = yr*c-yi*s+w*t.re[j], yr*s+yi*c+w*t.im[j]
			n = j
		}
	}
	re, im := t.re[:n], t.im[:n]
	for j := len(re) - 1; j >= 0; j-- {
		yr, yi = yr*c-yi*s+re[j], yr*s+yi*c+im[j]
	}
	return yr*c - yi*s
}

// powerAt returns the power of the lines that fit below half the sample rate.
func (t timbre) powerAt(rate float64) float64 {
	n := len(t.re)
	if n == 0 {
		return 0
	}
	if step := rate * float64(t.stride); step*float64(n) > fadeFrom {
		n = min(n, int((fadeFrom+fadeTo)/2/step))
	}
	return t.power[n]
}

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
