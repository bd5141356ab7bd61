package tacho_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// Noise that rises towards low frequencies is no slow rotor, however short the
// sound: with a floor as wide as half the band it would be in nine of ten.
func TestShortRedNoiseIsNoFamily(t *testing.T) {
	for _, seconds := range []float64{0.1, 0.2} {
		wrong := 0
		for seed := range uint64(60) {
			src := rand.New(rand.NewPCG(seed, 7))
			x := make([]float64, int(16000*seconds))
			var a, b, c float64
			for i := range x { // pink within some tenths of a decibel (P. Kellet, from memory)
				w := src.NormFloat64()
				a, b, c = 0.99765*a+w*0.0990460, 0.96300*b+w*0.2965164, 0.57000*c+w*1.0526913
				x[i] = 0.02 * (a + b + c + w*0.1848)
			}
			rec, err := tacho.NewRecording("noise", 16000, x)
			if err != nil {
				t.Fatal(err)
			}
			if f, err := tacho.FindFamily(rec, tacho.Options{}); err == nil {
				wrong++
			} else if !errors.Is(err, tacho.ErrNoReading) {
				t.Fatal(f, err)
			}
		}
		if wrong > 3 {
			t.Errorf("%g s: %d of 60 sounds of noise are taken for a rotor", seconds, wrong)
		}
	}
}

// A short slice of a rotor in noise of the room's colour reads its pulse rate, not
// a half or a third of it.
func TestShortSlicesReadThePulseRate(t *testing.T) {
	right := 0
	const all = 30
	for seed := range uint64(all) {
		rec, take := taken(t, synth.Scene{Rate: 16000, Seconds: 0.2, Seed: seed, Peak: 0.7,
			Rotors: []synth.Rotor{{Pulses: 5, Profile: synth.Steady(14 + 0.2*float64(seed)), PulseWidth: 0.07, GainSpread: 0.1}},
			Noise:  []synth.Noise{synth.Pink(20), {SNR: 22, Slope: -6, Low: 15, High: 400}}})
		f, err := tacho.FindFamily(rec, tacho.Options{Pulses: 5})
		if err == nil && math.Abs(f.Tone.X/take.Truth.PulseRate(0.1)-1) < 0.02 {
			right++
		}
	}
	if right < all-2 {
		t.Errorf("%d of %d slices read right", right, all)
	}
}

// All lines of a shaft are heard, more of them than a stack is found by: every second
// line of it reaches further, but there is no shaft of twice the rate.
func TestSlowShaftOfUnequalBlades(t *testing.T) {
	right := 0
	const all = 30
	for seed := range uint64(all) {
		rec, take := taken(t, synth.Scene{Rate: 44100, Seconds: 0.25, Seed: seed, Peak: 0.7,
			Rotors: []synth.Rotor{{Pulses: 7, Profile: synth.Steady(20 + 0.2*float64(seed)), PulseWidth: 0.04, GainSpread: 0.15, AngleSpread: 0.02}},
			Noise:  []synth.Noise{synth.White(22)}})
		f, err := tacho.FindFamily(rec, tacho.Options{Pulses: 7})
		if err == nil && math.Abs(f.Tone.X/take.Truth.PulseRate(0.1)-1) < 0.01 {
			right++
		}
	}
	if right < all-2 {
		t.Errorf("%d of %d slices read right", right, all)
	}
}

// A second rotor near by is fitted along: neither speed is pulled by many of its
// own uncertainties, whichever is asked for.
func TestNeighbourDoesNotPull(t *testing.T) {
	var sum, n float64
	for seed := range uint64(8) {
		rec, _ := taken(t, synth.Scene{Rate: 16000, Seconds: 0.6, Seed: seed + 1, Peak: 0.8, Noise: []synth.Noise{synth.Pink(15)},
			Rotors: []synth.Rotor{{Pulses: 5, Profile: synth.Steady(17.2), PulseWidth: 0.07}, {Pulses: 2, Profile: synth.Steady(24), PulseWidth: 0.1, LevelDB: -2}}})
		for truth, want := range map[float64]tacho.Range{86: {Lo: 80, Hi: 92}, 48: {Lo: 44, Hi: 52}} {
			f, err := tacho.FindFamily(rec, tacho.Options{Range: want, ClockPPM: -1})
			if err != nil {
				t.Errorf("%g Hz: %v", truth, err)
				continue
			}
			z := (f.Tone.X - truth) / f.Tone.U()
			if math.Abs(z) > 4 {
				t.Errorf("%g Hz: %v, %.1f of its uncertainties off", truth, f.Tone, z)
			}
			sum, n = sum+z*z, n+1
		}
	}
	if rms := math.Sqrt(sum / n); rms > 1.6 {
		t.Errorf("errors are %.2f of their uncertainties (root mean square)", rms)
	}
}

// Where the number of pulses is known, the family's tone is the pulse rate, also if
// unequal blades make the stack of the shaft the stronger one, and if the shaft turns
// below the range asked for; lines far above are found as well.
func TestFamilyOfUnequalBlades(t *testing.T) {
	rec, _ := taken(t, synth.Scene{Rate: 16000, Seconds: 3, Seed: 11, Peak: 0.8, Noise: []synth.Noise{synth.Pink(15)},
		Rotors: []synth.Rotor{{Pulses: 5, Profile: synth.Steady(17.2), PulseWidth: 0.07, BladeGains: []float64{1, 1, 1.6, 1, 1}, BladeShifts: []float64{0, 0, 0.1, 0, 0}}}})
	disc, err := tacho.Open("../datasets/siren-disc-steady.wav")
	if err != nil {
		t.Fatal(err)
	}
	if disc, err = disc.Slice(1, 3); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		rec    *tacho.Recording
		pulses int
		tone   float64
		top    float64 // at least, in pulse rates
	}{{rec, 5, 86, 5}, {disc, 12, 295.2, 4}} {
		f, err := tacho.FindFamily(c.rec, tacho.Options{Pulses: c.pulses})
		if err != nil {
			t.Errorf("%d pulses: %v", c.pulses, err)
			continue
		}
		last := f.Lines[len(f.Lines)-1].M
		if math.Abs(f.Tone.X-c.tone) > 3*f.Tone.U() || last < c.top {
			t.Errorf("%d pulses: %v up to harmonic %g, want %g Hz and %g", c.pulses, f.Tone, last, c.tone, c.top)
		}
	}
}

// A speed that changes is none, nor is one of the skirts that its lines have then:
// while the whirligig is pushed a slice says nothing, or what was its speed.
func TestChangingSpeedIsNoFamily(t *testing.T) {
	run, _ := taken(t, synth.Scene{Rate: 16000, Seconds: 0.6, Seed: 3, Peak: 0.8, Noise: []synth.Noise{synth.Pink(20)},
		Rotors: []synth.Rotor{{Pulses: 5, Profile: synth.Ramp(14, 19, 0, 0.6), PulseWidth: 0.07}}})
	for _, pulses := range []int{1, 5} {
		if f, err := tacho.FindFamily(run, tacho.Options{Pulses: pulses}); !errors.Is(err, tacho.ErrNoReading) {
			t.Errorf("a run-up from 70 to 95 Hz reads %v, %v", f, err)
		}
	}
	push, take := taken(t, synth.Scene{Rate: 16000, Seconds: 2, Seed: 9, Peak: 0.7, Noise: []synth.Noise{synth.Pink(18)},
		Rotors: []synth.Rotor{{Pulses: 5, Profile: synth.Ramp(15, 17.3, 0.5, 1.2), PulseWidth: 0.07, GainSpread: 0.12}}})
	for at := 0.2; at < 1.2; at += 0.05 {
		part, err := push.Slice(at, at+0.4)
		if err != nil {
			t.Fatal(err)
		}
		lo, hi := take.Truth.PulseRate(at), take.Truth.PulseRate(at+0.4)
		if f, err := tacho.FindFamily(part, tacho.Options{Pulses: 5}); err == nil && (f.Tone.X < 0.995*lo || f.Tone.X > 1.005*hi) {
			t.Errorf("%.2f to %.2f s: %v, truth %.2f to %.2f Hz", at, at+0.4, f.Tone, lo, hi)
		} else if err != nil && lo == hi {
			t.Errorf("%.2f to %.2f s: %v, truth %.2f Hz throughout", at, at+0.4, err, lo)
		}
	}
}

// A stack found in noise of any colour is an accident: in one recording of a
// hundred at most (the family's odds are set for that). Noise that falls steeply
// from low frequencies on stands high above a floor that is taken from a wide
// surrounding.
func TestNoFamilyInNoiseOfAnyColour(t *testing.T) {
	found, all := 0, 0
	for _, seconds := range []float64{0.06, 0.1, 0.2, 0.5} {
		for _, slope := range []float64{-12, -9, -6, -3, 0, 3, 6} {
			for seed := range uint64(8) {
				s := synth.Scene{Rate: 16000, Seconds: 1, Seed: 100 + seed, Peak: 0.5, Noise: []synth.Noise{{Slope: slope}}}
				rec, _ := taken(t, s)
				piece, err := rec.Slice(0.3, 0.3+seconds)
				if err != nil {
					t.Fatal(err)
				}
				all++
				switch f, err := tacho.FindFamily(piece, tacho.Options{}); {
				case err == nil:
					found++
					t.Logf("%g s at %g dB per octave, seed %d: %.4g Hz, %.1f nats", seconds, slope, s.Seed, f.Tone.X, f.LogOdds)
				case !errors.Is(err, tacho.ErrNoReading):
					t.Fatal(err)
				}
			}
		}
	}
	// 224 pieces, 2.2 to be expected: more than 7 by chance in 3 of 1000 (Poisson)
	if found > 7 {
		t.Errorf("a family in %d of %d pieces of noise", found, all)
	}
}
