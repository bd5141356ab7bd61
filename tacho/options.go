package tacho

import "context"

// Options says how to look for a rotor in a recording. The zero value asks for
// everything to be found from the sound alone.
type Options struct {
	// Pulses is z, the number of sound pulses in one revolution: blades, holes
	// or teeth. 0 stands for 1: the repetition that is heard is the turn.
	Pulses int
	// Range bounds the pulse rate in hertz; the zero value is 20 to 6000 Hz. A rotor
	// that slows down out of it is followed to half of its lower end; one that turns
	// below it all the time has no reading, as far as its lines tell it from a rotor
	// within: a range that is stated is evidence too.
	Range Range
	// Motion is Auto, Steady or Varying; the zero value is Auto.
	Motion Motion
	// Channel picks the channel: 0 weighs the evidence of every channel,
	// 1 is the first, 2 the second, MixDown the mean of all.
	Channel int
	// ClockPPM is the standard uncertainty of the recorder's sampling clock in
	// parts per million. 0 stands for DefaultClockPPM; a calibrated recorder
	// states its own, and a negative value stands for a perfect clock.
	ClockPPM float64
	// Context, if not nil, ends a long measurement early: the error is its own.
	Context context.Context
	// Progress, if not nil, is called with the share done, 0 to 1.
	Progress func(done float64)

	see observer // of the intermediates; nil but for Inspect
	// passed says that voices pass the lines of what is followed
	passed bool
	// faint says that a family louder than loudFamily would have been followed
	faint bool
}

// Range is an interval of pulse rates in hertz.
type Range struct{ Lo, Hi Hertz }

// Motion says whether the speed may change during the recording.
type Motion string

// The kinds of motion. The zero value of Motion means Auto.
const (
	Auto    Motion = "auto"    // let the evidence decide
	Steady  Motion = "steady"  // one speed for the whole recording
	Varying Motion = "varying" // a speed that changes with time
)

// MixDown as Options.Channel asks for the mean of all channels.
const MixDown = -1

// DefaultRange is the pulse-rate range searched when none is given.
var DefaultRange = Range{20, 6000}

// DefaultClockPPM is the standard uncertainty assumed for a recorder whose
// clock nobody has checked, in parts per million. Quartz clocks in phones and
// sound cards are usually specified within ±50 ppm or so, which as a uniform
// distribution has a standard deviation near 30 ppm (common practice).
const DefaultClockPPM = 30.0
