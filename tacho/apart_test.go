package tacho_test

import (
	"cmp"
	"math"
	"slices"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// Two rotors whose rates stand nearly as 5:4, as loud as each other: every fourth line
// of the one lies a part of a hertz beside every fifth of the other. The speed that is
// read is that of one of them, as the scene has it, to within three standard
// uncertainties, and the other is listed.
func TestNearlyInTune(t *testing.T) {
	harmonics := []float64{0.7, 0.95, 0.75, 0.45, 0.8, 0.65, 0.6, 0.9}
	for seed := uint64(21); seed < 25; seed++ {
		rates := []float64{104.6, 104.6 * 1.2491}
		s := synth.Scene{Rate: 11025, Seconds: 2.3, Seed: seed,
			Rotors: []synth.Rotor{
				{Pulses: 1, Harmonics: harmonics, RandomPhases: true, Profile: synth.Steady(rates[0]), Level: 0.1},
				{Pulses: 1, Harmonics: harmonics, RandomPhases: true, Profile: synth.Steady(rates[1])},
			},
			Noise: []synth.Noise{synth.White(10)},
		}
		track := follow(t, s, tacho.Options{Pulses: 1, ClockPPM: -1})
		if track.Steady == nil {
			t.Fatalf("seed %d: %s %v", seed, track.Verdict, track.Reasons)
		}
		v := track.Steady.Tone
		if math.Abs(v.X/rates[1]-1) < 0.03 {
			rates[0], rates[1] = rates[1], rates[0]
		}
		lo, hi := v.CI95()
		if e, u := v.X-rates[0], (hi-lo)/(2*1.96); math.Abs(e) > 3*u {
			t.Errorf("seed %d: %.5f Hz is off by %.1f standard uncertainties", seed, v.X, e/u)
		}
		if !slices.IsSortedFunc(track.Alternatives, func(a, b tacho.Alternative) int { return cmp.Compare(a.Odds, b.Odds) }) {
			t.Errorf("seed %d: not in order of their odds: %v", seed, track.Alternatives)
		}
		listed := false
		for _, a := range track.Alternatives {
			listed = listed || math.Abs(float64(a.Tone)/rates[1]-1) < 0.01
		}
		if !listed {
			t.Errorf("seed %d: %.2f Hz is not among %v", seed, rates[1], track.Alternatives)
		}
	}
}

// A rotor that speeds up past a steady one, half as loud: the louder is followed from
// end to end, although their lines cross again and again.
func TestSpeedingUpPastASteadyOne(t *testing.T) {
	s := synth.Scene{Rate: 16000, Seconds: 6, Seed: 31,
		Rotors: []synth.Rotor{
			{Pulses: 4, Harmonics: []float64{0.8, 0.5, 0.6, 0.3, 0.4}, Profile: synth.Ramp(24, 51, 0.5, 4.5), Level: 0.1},
			{Pulses: 3, Harmonics: []float64{0.4, 0.3, 0.7, 0.3, 0.3, 0.9, 0.3, 0.8}, Profile: synth.Steady(25.8), LevelDB: -3},
		},
		Noise: []synth.Noise{synth.White(15)},
	}
	track := follow(t, s, tacho.Options{Pulses: 4})
	if n := len(track.Points); n < 285 {
		t.Errorf("%d points of some 300", n)
	}
	for _, p := range track.Points {
		truth := 4 * (24 + 27*math.Max(0, math.Min(1, (p.T-0.5)/4.5)))
		if math.Abs(float64(p.Tone)/truth-1) > 0.03 {
			t.Fatalf("at %.2f s %.2f Hz instead of %.2f", p.T, float64(p.Tone), truth)
		}
	}
}

// The first of two rotors may have been followed along lines of both. It is looked for
// anew in what the second leaves: only that shows the motion of the scene here, a
// rotor that speeds up beside a steady one half as loud.
func TestEachIsSearchedInWhatTheOtherLeaves(t *testing.T) {
	s := synth.Scene{Rate: 8000, Seconds: 4, Seed: 11,
		Rotors: []synth.Rotor{
			{Pulses: 1, Harmonics: []float64{1, 0.7, 0.4, 0.3, 0.8}, RandomPhases: true, Profile: synth.Ramp(170, 263, 0.5, 3), Level: 0.1},
			{Pulses: 1, Harmonics: []float64{0.7, 0.3, 0.3, 0.7, 0.6, 0.9, 1}, RandomPhases: true, Profile: synth.Steady(142), LevelDB: -3},
		},
		Noise: []synth.Noise{synth.White(15)},
	}
	track := follow(t, s, tacho.Options{Pulses: 1})
	if n := len(track.Points); n < 190 {
		t.Errorf("%d points of some 200", n)
	}
	for _, p := range track.Points {
		truth := 170 + 93*math.Max(0, math.Min(1, (p.T-0.5)/3))
		if math.Abs(float64(p.Tone)/truth-1) > 0.03 {
			t.Fatalf("at %.2f s %.2f Hz instead of %.2f", p.T, float64(p.Tone), truth)
		}
	}
}

// Two rotors as loud as each other whose rates stand as 4:3, as near as can be heard: all
// their lines are multiples of a third of the one, and could be those of one rotor that
// lacks half of its lines. Whichever is read, both rotors are listed, and none is said to
// be ten times less likely.
func TestInTune(t *testing.T) {
	harmonics := []float64{0.6, 0.5, 0.9}
	for _, c := range []struct{ low, ratio float64 }{{104.6, 4.0 / 3}, {71.3, 1.3335}, {151.7, 4.0 / 3}, {88.2, 1.3331}} {
		s := synth.Scene{Rate: 11025, Seconds: 2.3, Seed: uint64(c.low),
			Rotors: []synth.Rotor{
				{Pulses: 1, Harmonics: harmonics, RandomPhases: true, Profile: synth.Steady(c.low), Level: 0.1},
				{Pulses: 1, Harmonics: harmonics, RandomPhases: true, Profile: synth.Steady(c.low * c.ratio)},
			},
			Noise: []synth.Noise{synth.White(10)},
		}
		track := follow(t, s, tacho.Options{Pulses: 1, ClockPPM: -1})
		if track.Steady == nil {
			t.Fatalf("%g Hz: %s %v", c.low, track.Verdict, track.Reasons)
		}
		for _, hz := range []float64{c.low, c.low * c.ratio} {
			odds := math.Inf(1)
			if math.Abs(track.Steady.Tone.X/hz-1) < 0.01 {
				odds = 1
			}
			for _, a := range track.Alternatives {
				if math.Abs(float64(a.Tone)/hz-1) < 0.01 {
					odds = math.Min(odds, a.Odds)
				}
			}
			if odds > 10 {
				t.Errorf("read as %.2f Hz, with odds of %.3g against a rotor at %.2f Hz: %v", track.Steady.Tone.X, odds, hz, track.Alternatives)
			}
		}
	}
}

// Two rotors nearly in tune that speed up and slow down together: a third of the one and
// the other, or the one and a fourth of the other, stand in a whole ratio, and are no two.
func TestNearlyInTuneAndMoving(t *testing.T) {
	const ratio = 1.3286
	for seed := uint64(1); seed < 9; seed++ {
		rate := 850 + 40*float64(seed)
		wow := synth.Wow{Rate: 0.6, Depth: 0.01, Phase: 2.4}
		s := synth.Scene{Rate: 32000, Seconds: 5, Seed: seed,
			Rotors: []synth.Rotor{
				{Pulses: 4, Harmonics: []float64{1.1, 0.45, 0.15, 0.08}, RandomPhases: true, Profile: synth.Steady(rate / 4).Wobbling(wow), Level: 0.1},
				{Pulses: 4, Harmonics: []float64{1.1, 0.45, 0.15, 0.08}, RandomPhases: true, Profile: synth.Steady(rate * ratio / 4).Wobbling(wow)},
			},
			Noise: []synth.Noise{synth.White(18)},
		}
		track := follow(t, s, tacho.Options{Pulses: 4})
		if len(track.Points) < 200 {
			t.Fatalf("%g Hz: %d points of some 250: %v", rate, len(track.Points), track.Reasons)
		}
		p := track.Points[len(track.Points)/2]
		if tone := float64(p.Tone); math.Abs(tone/rate-1) > 0.02 && math.Abs(tone/(ratio*rate)-1) > 0.02 {
			t.Errorf("%.1f Hz in the middle of two rotors at %g and %.1f Hz, 1 %% up and down: %v", tone, rate, ratio*rate, track.Alternatives)
		}
	}
}

// A rotor whose rate is nearly a whole number of times that of another, half as loud, but
// hertz away from it: it is read, and the other is listed, by its pulses or by its turns.
// Of ratios about 20 two in five lie within a hundredth of a whole number.
func TestNearlyAWholeNumberOfTimes(t *testing.T) {
	for i, ratio := range []float64{9.91, 12.11, 16.1, 18.12} {
		const slow = 114.9
		s := synth.Scene{Rate: 22050, Seconds: 3, Seed: uint64(i + 1),
			Rotors: []synth.Rotor{
				{Pulses: 2, PulseWidth: 0.14, Profile: synth.Steady(slow * ratio / 2), Level: 0.1},
				{Pulses: 5, Harmonics: []float64{0.82, 0.24, 0.27}, GainSpread: 0.11, Profile: synth.Steady(slow / 5), LevelDB: -3},
			},
			Noise: []synth.Noise{synth.White(22)},
		}
		track := follow(t, s, tacho.Options{Pulses: 2, Range: tacho.Range{Lo: 330, Hi: 3900}})
		if track.Steady == nil {
			t.Fatalf("%g Hz beside %g Hz: %s %v", slow*ratio, slow, track.Verdict, track.Reasons)
		}
		if hz := track.Steady.Tone.X; math.Abs(hz/(slow*ratio)-1) > 0.001 {
			t.Errorf("%g Hz beside %g Hz: read as %g Hz, %v", slow*ratio, slow, hz, track.Alternatives)
		}
		if !slices.ContainsFunc(track.Alternatives, func(a tacho.Alternative) bool {
			return math.Abs(float64(a.Tone)/slow-1) < 0.01 || math.Abs(float64(a.Tone)/slow*5-1) < 0.01
		}) {
			t.Errorf("%g Hz is not among %v", slow, track.Alternatives)
		}
	}
}
