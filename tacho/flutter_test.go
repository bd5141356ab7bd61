package tacho_test

import (
	"math"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// A speed that swings a few times a second, by two parts in a thousand or by two in a
// hundred, is followed to a fortieth of its swing. By inertia alone three to eleven parts in
// a hundred of it are missed.
func TestFluttersAreFollowed(t *testing.T) {
	t.Parallel()
	squares, waves := 0.0, 0.0
	for _, c := range []struct {
		pulses          int
		rate, at, depth float64
	}{{1, 104.7, 6.58, 0.0024}, {20, 113.6, 5.28, 0.002}, {8, 151.4, 7.63, 0.017}, {4, 156.5, 6.52, 0.0217}} {
		held, points, rms := 0, 0, 0.0
		for seed := range uint64(3) {
			rec, take := taken(t, synth.Scene{Rate: 16000, Seconds: 8, Seed: 700 + seed, Peak: 0.7, Noise: []synth.Noise{synth.White(15)},
				Rotors: []synth.Rotor{{Pulses: c.pulses, Harmonics: []float64{0.8, 0.7, 0.3, 0.4, 0.3, 0.2, 0.3}, RandomPhases: true, GainSpread: 0.05, AngleSpread: 0.01,
					Profile: synth.Steady(c.rate / float64(c.pulses)).Wobbling(synth.Wow{Rate: c.at, Depth: c.depth, Phase: 1 + float64(seed)})}}})
			in, err := tacho.Inspect(rec, tacho.Options{Pulses: c.pulses, ClockPPM: -1})
			if err != nil {
				t.Fatal(err)
			}
			track := in.Track
			if len(in.Fits) != 1 || len(in.Fits[0].Flutter) != 1 {
				t.Errorf("%v, seed %d: %d stretches, flutter %v", c, seed, len(in.Fits), in.Fits)
			} else if f := in.Fits[0].Flutter[0]; math.Abs(f.Rate.X-c.at) > 0.02 || math.Abs(f.Depth.X/100/c.depth-1) > 0.05 {
				t.Errorf("%v, seed %d: flutter %v", c, seed, f)
			} else {
				rate, depth := (f.Rate.X-c.at)/f.Rate.U(), (f.Depth.X-100*c.depth)/f.Depth.U()
				squares += rate*rate + depth*depth
				waves++
			}
			if track.Verdict != tacho.VerdictVarying || len(track.Points) < 300 {
				t.Errorf("%v, seed %d: %s, %d points", c, seed, track.Verdict, len(track.Points))
			}
			held, points = held+holding(track, take), points+len(track.Points)
			for _, p := range track.Points {
				e := float64(p.Tone)/take.Truth.PulseRate(p.T) - 1
				rms += e * e
			}
		}
		rms = math.Sqrt(rms / float64(points))
		t.Logf("%v: errors of %.3f of the swing, %d of %d held", c, rms/c.depth, held, points)
		if !(rms < 0.025*c.depth) {
			t.Errorf("%v: errors of %.2g of the swing (rms), want 0.025", c, rms/c.depth)
		}
		if float64(held) < 0.85*float64(points) {
			t.Errorf("%v: %d of %d points held, want 85 of a hundred", c, held, points)
		}
	}
	// a chi-square of two for each wave, of which a thousandth lies beyond
	rms := math.Sqrt(squares / 2 / waves)
	t.Logf("%g waves, errors of %.2f times their uncertainty (rms)", waves, rms)
	if !(rms > 0.5 && rms < 1.5) {
		t.Errorf("errors of waves of %.2f times their uncertainty (rms), want one", rms)
	}
}
