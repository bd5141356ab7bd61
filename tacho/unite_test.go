package tacho_test

import (
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// What is followed beyond the end of a coast may slip to the third line of the shaft when
// the rotor is pushed, which then seems to show the pulses of that: against the truth of a
// synthetic recording.
func TestWhatSlippedToALineOfTheShaftHidesNoPush(t *testing.T) {
	t.Parallel()
	rec, take := taken(t, synth.Scene{Rate: 11025, Seconds: 16.860353577378675, Seed: 3643285464338642, Peak: 0.132,
		Noise: []synth.Noise{{SNR: 24.93, Slope: -1.727}}, Room: &synth.Room{RT60: 0.28161373316295013, Direct: 13.065},
		Rotors: []synth.Rotor{{Pulses: 4, PulseWidth: 0.13, GainSpread: 0.145, AngleSpread: 0.01046, RandomPhases: true, Level: 0.1, Growth: 2,
			Profile: synth.Trial(synth.Friction{Coulomb: 0.683, Viscous: 0.03197, Quadratic: 0.000322},
				synth.Push{Start: 3.937, Seconds: 1.394, Accel: 28.56, Top: 24.6, Rise: 0.0816},
				synth.Push{Start: 9.162, Seconds: 1.974, Accel: 20.02, Top: 18.71, Rise: 0.1265},
				synth.Push{Start: 13.2195, Seconds: 0.3842, Accel: 128, Top: 19.627, Rise: 0.0866})}}})
	track, err := tacho.Follow(rec, tacho.Options{Pulses: 4})
	if err != nil {
		t.Fatal(err)
	}
	if n := len(track.Points); n < 500 || 50*gross(track, take) > n {
		t.Errorf("%d of %d points are off by more than 3 %%", gross(track, take), n)
	}
}
