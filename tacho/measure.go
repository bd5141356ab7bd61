package tacho

import "fmt"

// Measure says how fast the rotor turned in the recording.
//
// The pulses per revolution may stand in rotor or in opt; if in neither, the
// repetition that is heard counts as the turn, and a warning says so.
// opt.Context ends a long measurement early.
//
// A recording in which no rotor can be claimed is not an error: the verdict is
// then VerdictNoReading, with reasons. Measure returns ErrPulses if the two
// counts differ or are negative, ErrRadius or ErrUnit if the radius makes no
// sense, and the errors of [Follow].
func Measure(rec *Recording, rotor Rotor, opt Options) (*Measurement, error) {
	rotor, stated, err := agreed(rotor, opt.Pulses)
	if err != nil {
		return nil, err
	}
	opt.Pulses = rotor.Pulses
	track, err := Follow(rec, opt)
	if err != nil {
		return nil, err
	}
	m, err := NewMeasurement(rec, rotor, track)
	if err != nil {
		return nil, err
	}
	if !stated && m.Verdict != VerdictNoReading {
		m.Warnings = append(m.Warnings, "the number of pulses per revolution was not given: "+
			"one repetition of the sound is counted as one turn, so the true speed is this one divided by the number of blades, holes or teeth")
	}
	return m, nil
}

// agreed returns the rotor with the pulses that it and the options agree on,
// and whether anybody stated them.
func agreed(rotor Rotor, pulses int) (Rotor, bool, error) {
	switch {
	case rotor.Pulses < 0 || pulses < 0:
		return rotor, false, fmt.Errorf("%w: it is %d", ErrPulses, min(rotor.Pulses, pulses))
	case rotor.Pulses != 0 && pulses != 0 && rotor.Pulses != pulses:
		return rotor, false, fmt.Errorf("%w: the rotor has %d and the options say %d; give it once", ErrPulses, rotor.Pulses, pulses)
	}
	rotor.Pulses = max(rotor.Pulses, pulses)
	stated := rotor.Pulses > 0
	rotor.Pulses = max(rotor.Pulses, 1)
	if rotor.HasRadius() {
		// A bad radius is refused before the long work, not after it.
		if _, err := rotor.TipSpeed(Exact(1, "rev/s")); err != nil {
			return rotor, false, err
		}
	}
	return rotor, stated, nil
}
