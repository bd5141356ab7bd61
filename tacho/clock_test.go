package tacho_test

import (
	"errors"
	"math"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// The time signals of WWV: 500 and 600 Hz in turns, 440 Hz once an hour, a tick of
// 5 cycles of 1000 Hz a second (US Navy, NEETS module on time signals, quoting the
// National Bureau of Standards; its table prints 100 Hz for the minute's mark, a
// misprint for 1000). A recorder 40 ppm fast hears them low; the tone gives the
// error back, and with it a reading is put right.
func TestClockErrorFromATimeSignal(t *testing.T) {
	const ppm = 40.0
	for _, sent := range []float64{440, 500, 600} {
		rec, _ := taken(t, synth.Scene{Rate: 16000, Seconds: 3, Seed: 4, ClockPPM: ppm,
			Rotors: []synth.Rotor{{Pulses: 1, Profile: synth.Steady(sent), Harmonics: []float64{1}}}, Noise: []synth.Noise{{SNR: 20}}})
		spectrum, err := rec.Spectrum(tacho.SpectrumOptions{})
		if err != nil {
			t.Fatal(err)
		}
		tone := spectrum.Peaks(1)[0].Tone()
		e, err := tacho.ClockError(tone, tacho.Exact(sent, "Hz"))
		if err != nil || e.Unit != "ppm" {
			t.Fatalf("%v, %v", e, err)
		}
		if math.Abs(e.X-ppm) > 3*e.U() || !(e.U() < 5) {
			t.Errorf("%g Hz: the clock runs %v fast, truth %g ppm", sent, e, ppm)
		}
		if right := tone.X * (1 + e.X/1e6); math.Abs(right-sent) > 1e-9 {
			t.Errorf("put right, %g Hz is %g", sent, right)
		}
	}
	// What a family already says of the clock is left out.
	heard := tacho.Value{X: 499.98, Unit: "Hz", Parts: []tacho.Part{{Name: "tone", U: 0.001}, {Name: "clock", U: 0.015}}}
	if e, err := tacho.ClockError(heard, tacho.Exact(500, "Hz")); err != nil || math.Abs(e.U()-2) > 0.001 {
		t.Errorf("%v, %v: want an uncertainty of 2 ppm", e, err)
	}
	// Five cycles of 1000 Hz, and six of 1200 Hz at WWVH, last 5 ms each.
	for cycles, f := range map[float64]tacho.Hertz{5: 1000, 6: 1200} {
		if got := cycles * float64(f.Period()); math.Abs(got-0.005) > 1e-15 {
			t.Errorf("%g cycles of %v last %g s", cycles, f, got)
		}
	}
	if _, err := tacho.ClockError(tacho.Exact(0, "Hz"), tacho.Exact(500, "Hz")); !errors.Is(err, tacho.ErrOption) {
		t.Errorf("silence: %v", err)
	}
	if _, err := tacho.ClockError(tacho.Exact(500, "rpm"), tacho.Exact(500, "Hz")); !errors.Is(err, tacho.ErrUnit) {
		t.Errorf("a speed: %v", err)
	}
}
