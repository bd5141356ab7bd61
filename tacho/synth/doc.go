// Package synth makes signals and whole recordings of spinning things whose
// truth is known exactly, so that a measurement can be judged.
//
// Two levels:
//
//   - plain signals for a lesson: [Tone], [Tones], [Hum], [Square], [Sawtooth],
//     [Triangle], [PulseTrain], [Chirp], [WhiteNoise], put together by [Sum],
//     [Scaled], [Join] and [Every];
//   - a [Scene], which says what spins, how fast at every moment, in which room,
//     amid which other sounds and in front of which microphone. Its method Make
//     returns a [Take]: the samples, and the [Truth] about the rotor.
//
// The way of a sound through a scene:
//
//	rotors, voices, music, clicks -> room -> channels (delay, gain, polarity)
//	  -> noise and mains hum -> microphone -> gain control -> clipping
//	  -> dropouts -> codec -> scale -> quantisation
//
// # Symbols and units
//
//	fs  sample rate, samples per second      z   pulses per revolution
//	n   number of samples                    fr  shaft speed, revolutions per second
//	f   frequency of a tone, hertz           m   harmonic number of the pulse rate
//	t   time since the first sample, s       k   order: multiple of the shaft speed
//
// Samples are float64 with full scale at 1. A level in dB compares powers.
// The signal-to-noise ratio is the power of all the rotor's lines together over
// the variance of the noise.
//
// # Same in, same out
//
// Nothing here reads a clock or a global random source. A scene carries its
// seed, and every part of it draws from a PCG generator of its own, so adding a
// voice does not change the noise. The same scene gives the same samples, to the
// last bit on one kind of processor and to rounding on others.
//
// # Example
//
//	scene := synth.Scene{
//		Rate: 44100, Seconds: 4, Seed: 7,
//		Rotors: []synth.Rotor{{Pulses: 5, Profile: synth.Ramp(2, 14, 0.5, 3), Growth: 2}},
//		Noise:  []synth.Noise{{SNR: 20}},
//	}
//	take, err := scene.Make()
//	// take.Samples[0] is the sound, take.Truth.Speed(2) the speed at 2 s.
package synth
