package live

import (
	"fmt"

	"rotorhum/tacho"
)

// Step is the time between readings in seconds.
const Step = 0.05

// Reading is what is known at one moment of a sound that is still coming.
type Reading struct {
	// At is the moment, in seconds of sound since the start: that of the newest
	// sample.
	At float64
	// Heard reports whether a rotor is heard. If not, Tone and Speed are zero
	// and Why says what is heard instead.
	Heard bool
	Why   string
	// Tone is the pulse rate in Hz at At, with the contributions "tone" and
	// "clock"; Speed the shaft speed in rev/s, Tone over Options.Pulses.
	Tone, Speed tacho.Value
	// Highest is the highest speed so far, nil if none was heard yet.
	Highest *Highest
	// SNR is the power of the rotor's lines over the noise around them, in dB.
	SNR float64
	// Level is the RMS level since the reading before, in dB relative to a sine
	// of full scale; Peak the largest sample, in dB relative to full scale. Both
	// are minus infinity for digital silence.
	Level, Peak float64
	// Clipped reports that the microphone or its amplifier was at its end:
	// samples stood at full scale or in flat tops since the reading before.
	Clipped bool
	// Column is the spectrum of the newest sound in dB relative to a full-scale
	// sine, from 0 Hz on in steps of Follower.ColumnHz. It is not to be changed.
	Column []float32
}

// RPM returns the speed in revolutions per minute.
func (r Reading) RPM() tacho.Value { return r.Speed.Scale(60, "rpm") }

// String returns the reading in one line.
func (r Reading) String() string {
	if !r.Heard {
		return fmt.Sprintf("%.2f s: not heard: %s", r.At, r.Why)
	}
	return fmt.Sprintf("%.2f s: %s, 95 %%: %s", r.At, r.Speed.Rounded(), r.Speed.Between())
}

// Highest is the highest speed so far and its moment.
type Highest struct {
	// T is the moment in seconds of sound since the start.
	T float64
	// Tone is the pulse rate in Hz and Speed the shaft speed in rev/s.
	Tone, Speed tacho.Value
}
