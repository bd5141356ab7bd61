// Package listen follows the speed of a rotor while it spins, and keeps what it
// hears.
//
// [Listen] takes sound from a [Source]: a microphone, a stream of samples, or a
// recording that is rehearsed. Everything goes into a WAV file first, which is
// whole at every moment; what is shown meanwhile is for the eye, made by package
// [rotorhum/tacho/listen/live] from the past alone. Afterwards the file is a
// recording like any other, to be measured in full:
//
//	heard, err := listen.Listen("trial-3.wav", listen.Settings{Live: true, Seconds: 20, Rotor: rotor})
//	if err != nil {
//		return err
//	}
//	m, err := tacho.Measure(heard.Recording, rotor, tacho.Options{})
//	if err != nil {
//		return err
//	}
//	fmt.Println(m, heard.Against(m))
//
// Without Live nothing is recorded: the kept file is followed again as if it came
// from the microphone, with the same readings. So a notebook that once listened
// can be run again by anybody, and gives the same.
//
// Stand clear of what spins: see [tacho.Cautions].
package listen
