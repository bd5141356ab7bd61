package tacho

// Family is a stack of lines at whole multiples of one pulse rate: what a
// rotor's hum is made of.
type Family struct {
	// Tone is the pulse rate in hertz, with the contributions "tone" (noise)
	// and "clock" (the recorder's sampling rate).
	Tone Value
	// Lines are the harmonics found above the noise, in order of M.
	Lines []Harmonic
	// Seconds is the length of sound the family was fitted to.
	Seconds float64
	// Alternatives are the other readings of the same sound, the best first.
	Alternatives []Alternative
	// Balanced reports that the evidence does not decide between Tone and the
	// first alternative.
	Balanced bool
}

// Harmonic is one line of a family.
type Harmonic struct {
	// M is the harmonic number in units of the pulse rate: 1 is the pulse
	// tone, 2 its octave. Lines of unequal blades fall between whole numbers,
	// at multiples of 1/z.
	M float64
	// Freq is M times the pulse rate, in hertz.
	Freq Hertz
	// Amp is the line's amplitude (peak, full scale = 1) and Phase its phase
	// in radians, at the middle of the fitted sound.
	Amp, Phase float64
	// SNR is the line's power over the noise in one resolution cell, in dB.
	SNR float64
}

// Alternative is another speed that the same sound could mean.
type Alternative struct {
	// Tone is its pulse rate.
	Tone Hertz
	// Factor is its ratio to the winner in words, such as "1/2" or "3".
	Factor string
	// Odds is how many times less likely it is than the winner (at least 1).
	Odds float64
}
