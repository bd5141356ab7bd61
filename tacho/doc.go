// Package tacho turns a recording of something that spins into its speed, with
// an honest uncertainty, and shows its work.
//
// # The way of the data
//
//	file -> Recording -> Spectrum, Spectrogram     what is in the sound
//	        Recording -> Family                    one speed: a stack of lines
//	        Recording -> Track -> PeakSpeed        a speed that changes
//	Rotor + tone, Family or Track -> Measurement   rev/s, rpm, tip speed, g-load
//
// [Open] reads a WAV file, [NewRecording] takes samples. [Measure] goes all the
// way at once; every box on the way can be had by itself, prints itself, and
// knows nothing of the boxes behind it.
//
// A number that was measured is a [Value]: it carries its unit and the named
// contributions to its standard uncertainty through every calculation. A bare
// number of a known kind is a [Hertz], [RevPerSec], [RPM], [MetrePerSec] and so
// on. The tone of a rotor, in hertz, and its shaft speed, in rev/s, are not
// converted into each other: that takes the number of its pulses per turn, and
// only a [Rotor] knows it.
//
// # Symbols
//
// The same letter means the same thing in code, text, pictures and lessons:
//
//	fs  sample rate, Hz                  z   sound pulses per revolution
//	n   number of samples                fr  shaft speed, rev/s
//	k   bin of a spectrum                r   tip radius, m
//	df  distance of the bins, fs/n, Hz   v   tip speed, 2π·r·fr, m/s
//	f   frequency of a tone, Hz          u   standard uncertainty
//	m   harmonic number                  ν   degrees of freedom
//
// Samples have full scale 1. An amplitude is that of the peak of a sine, so that
// a sine of full scale reads 1 or 0 dB. Spectra are one-sided. Windows are
// periodic. Channels are counted from 1 where they are chosen.
//
// # What ± means
//
// The number behind ± is one standard uncertainty, in what is printed as in what
// [ParseValue] reads. An interval is a 95 % interval unless it says otherwise.
//
// # Errors
//
// Bad input is an error of a kind listed in the package's variables, with a
// message that says what was found and what to do. A recording in which no rotor
// can be claimed is no error: the result says "no reading" and why. A call that
// cannot be meant, such as adding seconds to metres, panics.
//
// # Example
//
//	rec, err := tacho.Open("whirligig.wav")
//	if err != nil {
//		return err
//	}
//	radius, err := tacho.ParseValue("6cm±0.5mm")
//	if err != nil {
//		return err
//	}
//	rotor := tacho.Rotor{Name: "five-vane whirligig", Pulses: 5, Radius: radius.Named("radius")}
//	m, err := tacho.Measure(rec, rotor, tacho.Options{})
//	if err != nil {
//		return err
//	}
//	fmt.Println(m)
package tacho
