package listen

import (
	"context"
	"math"

	"rotorhum/tacho"
	"rotorhum/tacho/listen/live"
)

// Settings say how to listen. The zero value follows a kept recording again.
type Settings struct {
	// Live asks for sound from Source now. Otherwise the recording that was kept
	// before is followed again, as fast as that can be done.
	Live bool
	// Source is where the sound comes from; nil is the default microphone.
	Source *Source
	// Seconds is the planned length of the trial; 0 for no limit. A recording
	// that was kept before is followed to its end.
	Seconds float64
	// Rotor is what spins. Its Pulses, if not 0, stand for Options.Pulses.
	Rotor tacho.Rotor
	// Options say how to look for the rotor. Of them, Pulses, Range, Channel and
	// ClockPPM count.
	Options tacho.Options
	// View is how the picture for Show is drawn.
	View live.View

	// Context, if not nil, ends the listening. What was heard until then is kept
	// and returned all the same.
	Context context.Context
	// Enough, if not nil, is called when the listening begins, with a function
	// that ends it early; the function that it returns is called when the
	// listening is over. In a cell the kernel fills it in: to interrupt the cell
	// then ends the listening, and the cell goes on with what was heard.
	Enough func(end func()) (over func())
	// Watch, if not nil, is called with every new reading, from one goroutine.
	// It delays the readings after it, never the keeping of the sound.
	Watch func(*State)
	// Show, if not nil, is called some sixteen times a second with a picture of
	// the last seconds, and with the last one at the end, from one goroutine. In
	// a cell the kernel fills it in.
	Show func(picture any)
}

// normal fills in what was left out, and refuses what cannot be meant.
func (s Settings) normal() (Settings, error) {
	if !(s.Seconds >= 0) || math.IsInf(s.Seconds, 1) {
		return s, optionError("a planned length of %v s: give a number of seconds, or 0 for no limit", s.Seconds)
	}
	switch z := s.Rotor.Pulses; {
	case z != 0 && s.Options.Pulses != 0 && z != s.Options.Pulses:
		return s, optionError("the rotor has %d pulses per revolution and the options say %d; give it once", z, s.Options.Pulses)
	case z != 0:
		s.Options.Pulses = z
	}
	if s.Context == nil {
		s.Context = context.Background()
	}
	if s.Source == nil {
		s.Source = Microphone("")
	}
	return s, nil
}

// State is what is known at one moment of the listening.
type State struct {
	// Source names where the sound comes from, and Format is its form.
	Source string
	Format Format
	// Reading is the newest reading, with the highest speed so far, and ColumnHz the
	// spacing of its column.
	Reading  live.Reading
	ColumnHz float64
	// Lost is how many seconds of sound the source has lost, in whose place
	// silence was kept; Skipped how many were kept but not followed, because the
	// machine was too busy.
	Lost, Skipped float64
	// Kept is the file in which the sound is kept, "" for none.
	Kept string
	// Planned is the planned length of the trial in seconds, 0 for no limit.
	Planned float64
}
