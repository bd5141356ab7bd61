package synth_test

import (
	"math"
	"testing"

	"rotorhum/tacho/synth"
)

func mustMake(t *testing.T, s synth.Scene) *synth.Take {
	t.Helper()
	take, err := s.Make()
	if err != nil {
		t.Fatal(err)
	}
	return take
}

// The sound on an exponential ramp must be the cosine of the exact phase
// 2 pi (f0/a) (exp(a t) - 1): the oracle for the phase integration.
func TestPhaseFollowsTheIntegralOfTheSpeed(t *testing.T) {
	const fs, f0, rate = 8000.0, 5.0, 1.0 // 172 % more per second
	take := mustMake(t, synth.Scene{Rate: fs, Seconds: 3, Rotors: []synth.Rotor{{
		Pulses: 4, Harmonics: []float64{1, 0.5}, Phases: []float64{0.3, 1.1}, Growth: 1,
		Profile: synth.ExponentialRamp(f0, f0*math.Exp(3*rate), 0, 3), StartTurn: 0.2,
	}}})
	worst := 0.0
	for i, got := range take.Samples[0] {
		at := float64(i) / fs
		turns := 0.2 + f0/rate*(math.Exp(rate*at)-1)
		level := math.Exp(rate * (at - 3))
		want := level * (math.Cos(2*math.Pi*4*turns+0.3) + 0.5*math.Cos(2*math.Pi*8*turns+1.1))
		worst = math.Max(worst, math.Abs(got-want))
	}
	// The trapezoidal rule errs by h² (f'(b) - f'(a))/12 turns: 2.6e-7 of a turn
	// on the shaft, 1.3e-5 radians in the second harmonic.
	if worst > 2e-5 {
		t.Errorf("worst sample is off by %.3g", worst)
	}
}

// Unequal blades: the lines must be the Fourier series of the pressure that is
// drawn blade by blade, Gaussian pulse by Gaussian pulse.
func TestUnequalBladesMakeTheLinesBetween(t *testing.T) {
	const z, width = 3, 0.1
	gains, shifts := []float64{1, 0.7, 1.2}, []float64{0, 0.08, -0.05}
	take := mustMake(t, synth.Scene{Rate: 8000, Seconds: 0.1, Rotors: []synth.Rotor{{
		Pulses: z, PulseWidth: width, BladeGains: gains, BladeShifts: shifts, Profile: synth.Steady(10), Level: 1,
	}}})
	const n = 4096 // points around one turn
	turn := make([]float64, n)
	for i := range turn {
		for b := range gains {
			for wrap := -1.0; wrap <= 1; wrap++ {
				d := (float64(i)/n+wrap)*z - (float64(b) + shifts[b])
				turn[i] += gains[b] * math.Exp(-d*d/(2*width*width))
			}
		}
	}
	lines := take.Truth.Lines
	first, _ := project(turn, 1, n)
	scale := lines[0].Amplitude / first
	if len(lines) < 8 {
		t.Fatalf("only %d lines to compare", len(lines))
	}
	for _, l := range lines {
		want, phase := project(turn, float64(l.Order), n)
		// The pulses are summed over three turns, beyond which they are below 1e-9.
		if math.Abs(scale*want-l.Amplitude) > 1e-8 {
			t.Errorf("order %d: amplitude %.9f, blade by blade %.9f", l.Order, l.Amplitude, scale*want)
		}
		if d := math.Remainder(phase-l.Phase, 2*math.Pi); math.Abs(d) > 1e-6 {
			t.Errorf("order %d: phase %.9f, blade by blade %.9f", l.Order, l.Phase, phase)
		}
	}
	power := 0.0
	for _, l := range lines {
		power += l.Amplitude * l.Amplitude / 2
	}
	if math.Abs(power-1) > 1e-9 {
		t.Errorf("Level 1 gives a power of %v", power)
	}
}

func TestEqualBladesHaveNoLinesBetween(t *testing.T) {
	take := mustMake(t, synth.Scene{Rate: 8000, Seconds: 0.1, Rotors: []synth.Rotor{{Pulses: 5, Profile: synth.Steady(10)}}})
	for _, l := range take.Truth.Lines {
		if l.Order%5 != 0 {
			t.Errorf("five equal blades have a line at order %d", l.Order)
		}
	}
}

func TestLinesCanBeRemovedAndAdded(t *testing.T) {
	take := mustMake(t, synth.Scene{Rate: 8000, Seconds: 1, Rotors: []synth.Rotor{{
		Pulses: 3, Profile: synth.Steady(40), Harmonics: []float64{0.2, 0.1, 0.05}, Missing: []int{1},
		OncePerTurn: 2, Lines: []synth.Line{{Order: 7, Amplitude: 0.5, Phase: 1}},
	}}})
	want := map[float64]float64{40: 0.4, 80: 0, 120: 0, 240: 0.1, 280: 0.1, 360: 0.05}
	for f, a := range want {
		if got, _ := project(take.Samples[0], f, 8000); math.Abs(got-a) > 1e-9 {
			t.Errorf("line at %v Hz: %v, want %v", f, got, a)
		}
	}
}

// Lines that would pass half the sample rate must fade, not fold: on a run-up
// to where every harmonic has passed it, nothing may appear below the lines.
func TestNothingFoldsBackFromHalfTheRate(t *testing.T) {
	const fs = 8000
	// The pulse rate stays at 1500 Hz: harmonics at 3000, and 4500, 6000, 7500,
	// which would fold to 3500, 2000, 500.
	take := mustMake(t, synth.Scene{Rate: fs, Seconds: 1, Rotors: []synth.Rotor{{
		Pulses: 10, Profile: synth.Steady(150), Harmonics: []float64{1, 1, 1, 1, 1},
	}}})
	for f, want := range map[float64]float64{1500: 1, 3000: 1, 3500: 0, 2000: 0, 500: 0} {
		if got, _ := project(take.Samples[0], f, fs); math.Abs(got-want) > 1e-9 {
			t.Errorf("%v Hz: amplitude %v, want %v", f, got, want)
		}
	}
	if got := take.LinePower; math.Abs(got-1) > 1e-9 {
		t.Errorf("LinePower %v counts lines that cannot be there; want 1", got)
	}
	// On a run-up a single line dies out smoothly before half the rate.
	take = mustMake(t, synth.Scene{Rate: fs, Seconds: 2, Rotors: []synth.Rotor{{
		Pulses: 10, Profile: synth.Ramp(300, 500, 0, 2), Harmonics: []float64{1},
	}}})
	tail := take.Samples[0][2*fs-fs/100:]
	for _, v := range tail {
		if v != 0 {
			t.Fatalf("a line at half the rate still sounds: %v", v)
		}
	}
}

func TestARotorAtRestIsSilent(t *testing.T) {
	for _, growth := range []float64{0, 1, 2.5} {
		take := mustMake(t, synth.Scene{Rate: 8000, Seconds: 6, Rotors: []synth.Rotor{{
			Pulses: 5, Profile: synth.CoastDown(10, synth.Friction{Coulomb: 2.5}), Growth: growth, GainSpread: 0.1,
		}}})
		x := take.Samples[0]
		for i := 4 * 8000; i < len(x); i++ {
			if x[i] != 0 {
				t.Fatalf("growth %v: sample %v at rest", growth, x[i])
			}
		}
		for i := 1; i < len(x); i++ {
			if math.Abs(x[i]-x[i-1]) > 0.2 {
				t.Fatalf("growth %v: a click at %.4f s", growth, float64(i)/8000)
			}
		}
		ends := take.Truth.Standstill
		if len(ends) != 1 || math.Abs(ends[0].From-4) > 2e-3 || ends[0].To != 6 {
			t.Errorf("growth %v: standstill %v, want from 4 to 6 s", growth, ends)
		}
	}
}

func TestLoudnessGrowsWithSpeed(t *testing.T) {
	rms := func(x []float64) float64 { return math.Sqrt(variance(x)) }
	take := mustMake(t, synth.Scene{Rate: 8000, Seconds: 3, Rotors: []synth.Rotor{{
		Pulses: 10, Harmonics: []float64{1}, Growth: 2, Profile: synth.Ramp(10, 20, 1, 1),
	}}})
	x := take.Samples[0]
	if got := rms(x[2*8000:]) / rms(x[:8000]); math.Abs(got-4) > 1e-3 {
		t.Errorf("twice the speed is %v times as loud, want 4", got)
	}
	if got, want := take.Truth.Level(0.5), 0.25; got != want {
		t.Errorf("Level(0.5) = %v, want %v", got, want)
	}
}

func TestSecondRotorIsAsLoudAsAsked(t *testing.T) {
	first := synth.Rotor{Pulses: 5, Profile: synth.Steady(20), Level: 0.2}
	second := synth.Rotor{Pulses: 4, Profile: synth.Steady(20), Harmonics: []float64{1}, LevelDB: -3}
	take := mustMake(t, synth.Scene{Rate: 8000, Seconds: 1, Rotors: []synth.Rotor{first, second}})
	got, _ := project(take.Samples[0], 80, 8000)
	if want := 0.2 * math.Sqrt2 * math.Pow(10, -3.0/20); math.Abs(got-want) > 1e-9 {
		t.Errorf("amplitude of the second rotor %v, want %v", got, want)
	}
	if len(take.Others) != 1 || take.Others[0].Pulses != 4 || math.Abs(take.Others[0].Lines[0].Amplitude-got) > 1e-9 {
		t.Errorf("truth of the second rotor: %+v", take.Others)
	}
}

// The precession of a top quickens as the spin decays: its rate times the spin
// stays the same, so the phase is the integral of Precession/fr.
func TestBeatFollowsThePrecession(t *testing.T) {
	const k = 24.0
	spin := func(t float64) float64 { return 30 - 4*t }
	take := mustMake(t, synth.Scene{Rate: 8000, Seconds: 4, Rotors: []synth.Rotor{{
		Pulses: 4, Harmonics: []float64{1}, Profile: synth.Ramp(30, 14, 0, 4), Beat: &synth.Beat{Depth: 0.5, Precession: k},
	}}})
	x := take.Samples[0]
	for at := 0.1; at < 3.9; at += 0.05 {
		size := 0.0
		for i := int((at - 0.01) * 8000); i < int((at+0.01)*8000); i++ {
			size = math.Max(size, math.Abs(x[i]))
		}
		turns := k / 4 * math.Log(30/spin(at))
		// The largest sample of 20 ms stands for the envelope, which moves by up to
		// 2 pi 1.7 Hz 10 ms 0.5 = 5 % meanwhile.
		if want := 1 + 0.5*math.Cos(2*math.Pi*turns); math.Abs(size-want) > 0.07 {
			t.Errorf("at %.2f s the sound is %v loud, want %v", at, size, want)
		}
	}
}

func TestJetBlowsWithThePushesAndTheBlades(t *testing.T) {
	scene := synth.Scene{Rate: 16000, Seconds: 4, Seed: 3, Rotors: []synth.Rotor{{
		Pulses: 5, Profile: synth.Trial(synth.Friction{}, synth.Push{Start: 1, Seconds: 2, Accel: 20, Top: 20}),
		Jet: &synth.Jet{LevelDB: 0, Depth: 0.8},
	}}}
	with := mustMake(t, scene).Samples[0]
	scene.Rotors[0].Jet = nil
	take := mustMake(t, scene)
	rush := make([]float64, len(with))
	for i := range rush {
		rush[i] = with[i] - take.Samples[0][i]
	}
	if before, after := variance(rush[:16000]), variance(rush[3*16000:]); before != 0 || after != 0 {
		t.Errorf("the jet blows without a push: %v before, %v after", before, after)
	}
	// Full rush, chopped: its power is (1 + 0.8²/2) times the lines'.
	want := take.LinePower * 1.32
	if got := variance(rush[20000:44000]); math.Abs(got/want-1) > 0.05 {
		t.Errorf("power of the rush %v, want %v", got, want)
	}
	// Its power goes up and down with the blades: in step with cos(2 pi z turns).
	var in, all float64
	turns, start := 0.0, phaseAt(take, 20000.0/16000)
	for i := 20000; i < 44000; i++ {
		turns += take.Truth.Speed(float64(i)/16000) / 16000
		p := rush[i] * rush[i]
		all += p
		in += p * math.Cos(2*math.Pi*5*turns+start)
	}
	// The mean of (1 + d cos)² cos over that of (1 + d cos)²: d/(1 + d²/2).
	if got, want := in/all, 0.8/1.32; math.Abs(got-want) > 0.05 {
		t.Errorf("the rush follows the blades by %v, want %v", got, want)
	}
}

// phaseAt returns the angle of the pulses, in radians, that the rotor has
// reached at t seconds.
func phaseAt(take *synth.Take, t float64) float64 {
	turns := 0.0
	const steps = 100000
	for i := range steps {
		turns += take.Truth.Speed((float64(i)+0.5)*t/steps) * t / steps
	}
	return 2 * math.Pi * float64(take.Truth.Pulses) * turns
}
