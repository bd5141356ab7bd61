package tacho_test

import (
	"math"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// unevenPulses is a scene of pulses that come early or late by half a hundredth of their
// distance, each on its own.
func unevenPulses(seed uint64, p synth.Profile) synth.Scene {
	return synth.Scene{Rate: 16000, Seconds: 6, Seed: seed, Peak: 0.7, Noise: []synth.Noise{synth.White(15)},
		Rotors: []synth.Rotor{{Pulses: 1, Profile: p, PulseWidth: 0.06, Jitter: 0.005}}}
}

// All lines tell of an uneven pulse alike: with the noise of each taken for its own the
// intervals hold half of the points or fewer, as the track follows the pulses.
func TestIntervalsHoldWithUnevenPulses(t *testing.T) {
	t.Parallel()
	held, points := 0, 0
	for seed := range uint64(8) {
		rec, take := taken(t, unevenPulses(500+seed, synth.ExponentialRamp(60+30*float64(seed), 80+50*float64(seed), 0, 6)))
		track, err := tacho.Follow(rec, tacho.Options{ClockPPM: -1})
		if err != nil {
			t.Fatal(err)
		}
		in := holding(track, take)
		held, points = held+in, points+len(track.Points)
		t.Logf("seed %d: %d of %d held", seed, in, len(track.Points))
	}
	if points < 2300 || float64(held) < 0.9*float64(points) {
		t.Errorf("%d of %d points held, want 90 of a hundred", held, points)
	}
}

// The rate of N pulses, each of which comes early or late by s of their distance, is known
// to s sqrt(12/(N(N²-1))) of itself: the slope of a straight line by least squares (any
// textbook of regression). A rate that holds must be found so well, and be said to be known
// so well.
func TestSteadyRateOfUnevenPulses(t *testing.T) {
	t.Parallel()
	squares, n := 0.0, 0
	for seed := range uint64(12) {
		const seconds = 6
		rate := 55 + 20*float64(seed)
		rec, _ := taken(t, unevenPulses(600+seed, synth.Steady(rate)))
		in, err := tacho.Inspect(rec, tacho.Options{ClockPPM: -1})
		if err != nil {
			t.Fatal(err)
		}
		f := in.Track.Steady
		if f == nil || len(in.Fits) != 1 {
			t.Errorf("%v Hz: %v, %v", rate, in.Track.Verdict, in.Track.Reasons)
			continue
		}
		if j := in.Fits[0].Jitter; j < 0.003 || j > 0.007 {
			t.Errorf("%v Hz: a jitter of %.4f was found, want 0.005", rate, j)
		}
		pulses := rate * seconds
		limit := 0.005 * math.Sqrt(12/(pulses*(pulses*pulses-1))) * rate
		t.Logf("%v Hz: %.2f limits off, said to be known to %.2f", rate, (f.Tone.X-rate)/limit, f.Tone.U()/limit)
		if f.Tone.U() < 0.9*limit || f.Tone.U() > 1.9*limit {
			t.Errorf("%v Hz is said to be known to %.2g Hz, want about %.2g", rate, f.Tone.U(), limit)
		}
		squares += (f.Tone.X - rate) * (f.Tone.X - rate) / (limit * limit)
		n++
	}
	if rms := math.Sqrt(squares / float64(max(1, n))); n < 11 || rms > 1.6 {
		t.Errorf("%d read, %.2f limits off (root mean square)", n, rms)
	}
}

// Noise is no jitter, nor is a speed that sways, nor a flutter with only nine pulses to a
// swing, which is hardly to be followed: that is no speed that holds either.
func TestNoJitterWhereThereIsNone(t *testing.T) {
	t.Parallel()
	for seed := range uint64(16) {
		p, verdict := synth.Steady(93+10*float64(seed)), tacho.VerdictSteady
		switch seed % 3 {
		case 1:
			p, verdict = p.Wobbling(synth.Wow{Rate: 1.3, Depth: 0.02}), tacho.VerdictVarying
		case 2:
			p, verdict = synth.Steady(66+float64(seed)/3).Wobbling(synth.Wow{Rate: 7.5, Depth: 0.0086}), tacho.VerdictVarying
		}
		scene := unevenPulses(700+seed, p)
		scene.Rotors[0].Jitter = 0
		rec, _ := taken(t, scene)
		in, err := tacho.Inspect(rec, tacho.Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range in.Fits {
			if f.Jitter > 0.0003 || in.Track.Verdict != verdict {
				t.Errorf("seed %d: %v, a jitter of %.4f, want %v and none", seed, in.Track.Verdict, f.Jitter, verdict)
			}
		}
	}
}
