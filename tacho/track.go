package tacho

// Verdict is what a recording allows one to say.
type Verdict string

// The verdicts.
const (
	VerdictSteady    Verdict = "steady"     // one speed describes the recording
	VerdictVarying   Verdict = "varying"    // the speed changes with time
	VerdictNoReading Verdict = "no_reading" // no rotor can be claimed; the reasons say why
)

// Track is the pulse rate over time, with the stretches left out in which no
// rotor is heard.
type Track struct {
	// Verdict is what can be said, with the Reasons in plain sentences.
	Verdict Verdict
	Reasons []string
	// Points are in order of time, at a regular step inside each stretch.
	Points []TrackPoint
	// Step is the time between neighbouring points of one stretch, in seconds.
	Step float64
	// Seconds is the length of the recording.
	Seconds float64
	// Steady is the family of the whole recording when the verdict is steady,
	// else nil.
	Steady *Family
	// Top is the family around the highest speed, nil without a reading.
	Top *Family
	// Alternatives are the other readings of the same sound, the best first,
	// their tones at the moment of the peak.
	Alternatives []Alternative
	// Warnings are doubts that do not forbid the reading.
	Warnings []string

	peak *PeakSpeed
}

// TrackPoint is the pulse rate at one moment.
type TrackPoint struct {
	// T is the time from the start of the recording in seconds.
	T float64
	// Tone is the pulse rate, Lo95 and Hi95 its 95 % interval.
	Tone, Lo95, Hi95 Hertz
	// SNR is the power of the family over the noise around it, in dB.
	SNR float64
}
