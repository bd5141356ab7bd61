package tacho_test

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

func taken(t *testing.T, s synth.Scene) (*tacho.Recording, *synth.Take) {
	t.Helper()
	take, err := s.Make()
	if err != nil {
		t.Fatal(err)
	}
	rec, err := tacho.NewRecording("synthetic", float64(take.Rate), take.Samples...)
	if err != nil {
		t.Fatal(err)
	}
	return rec, take
}

// gross returns the number of points of a track that are off the truth by more than 3 %.
func gross(track *tacho.Track, take *synth.Take) (points int) {
	for _, p := range track.Points {
		if math.Abs(float64(p.Tone)/take.Truth.PulseRate(p.T)-1) > 0.03 {
			points++
		}
	}
	return points
}

// holding returns the number of points of a track whose intervals hold the truth.
func holding(track *tacho.Track, take *synth.Take) (points int) {
	for _, p := range track.Points {
		if truth := tacho.Hertz(take.Truth.PulseRate(p.T)); truth >= p.Lo95 && truth <= p.Hi95 {
			points++
		}
	}
	return points
}

// The recordings of the made-up club, against the truth they were made from.
func TestShippedRecordingsReadTheTruth(t *testing.T) {
	data, err := os.ReadFile(filepath.Join("..", "datasets", "manifest.json"))
	if err != nil {
		t.Fatal(err)
	}
	var manifest struct {
		Recordings []struct {
			File  string
			Truth *struct {
				Pulses int     `json:"pulses_per_rev"`
				Peak   float64 `json:"peak_rev_per_s"`
				At     float64 `json:"peak_t_s"`
				Steady bool
			}
		}
	}
	if err := json.Unmarshal(data, &manifest); err != nil {
		t.Fatal(err)
	}
	if len(manifest.Recordings) < 5 {
		t.Fatalf("manifest lists %d recordings", len(manifest.Recordings))
	}
	for _, r := range manifest.Recordings {
		t.Run(r.File, func(t *testing.T) {
			t.Parallel()
			rec, err := tacho.Open(filepath.Join("..", "datasets", r.File))
			if err != nil {
				t.Fatal(err)
			}
			if r.Truth == nil {
				track, err := tacho.Follow(rec, tacho.Options{})
				if err != nil {
					t.Fatal(err)
				}
				if track.Verdict != tacho.VerdictNoReading || len(track.Reasons) == 0 || len(track.Points) > 0 {
					t.Errorf("no rotor was there; said %q with %d points", track.Verdict, len(track.Points))
				}
				return
			}
			z := float64(r.Truth.Pulses)
			track, err := tacho.Follow(rec, tacho.Options{Pulses: r.Truth.Pulses})
			if err != nil {
				t.Fatal(err)
			}
			want := tacho.VerdictVarying
			if r.Truth.Steady {
				want = tacho.VerdictSteady
			}
			if track.Verdict != want {
				t.Fatalf("verdict %q, want %q (%v)", track.Verdict, want, track.Reasons)
			}
			peak, err := track.Peak()
			if err != nil {
				t.Fatal(err)
			}
			fr, u := peak.Tone.X/z, peak.Tone.U()/z
			// a top at the very start of a recording is heard late
			tol := math.Max(0.005*r.Truth.Peak, 3*u)
			if r.Truth.At == 0 && !r.Truth.Steady {
				tol = 0.02 * r.Truth.Peak
			}
			if math.Abs(fr-r.Truth.Peak) > tol {
				t.Errorf("peak %.4f ± %.4f rev/s, truth %.4f", fr, u, r.Truth.Peak)
			}
			if u > 0.01*fr {
				t.Errorf("peak %.4f ± %.4f rev/s: an uncertainty of more than 1 %%", fr, u)
			}
			if r.Truth.At > 0 && math.Abs(peak.T-r.Truth.At) > 0.1 {
				t.Errorf("peak at %.3f s, truth %.3f s", peak.T, r.Truth.At)
			}
		})
	}
}

func TestTrackRisesThroughARampAndHoldsTheTruth(t *testing.T) {
	rec, take := taken(t, synth.Scene{Rate: 16000, Seconds: 3, Seed: 6, Noise: []synth.Noise{synth.White(12)},
		Rotors: []synth.Rotor{{Pulses: 3, Profile: synth.Ramp(20, 45, 0.5, 2), RandomPhases: true}}})
	track, err := tacho.Follow(rec, tacho.Options{Pulses: 3, ClockPPM: -1})
	if err != nil {
		t.Fatal(err)
	}
	if track.Verdict != tacho.VerdictVarying {
		t.Fatalf("verdict %q (%v)", track.Verdict, track.Reasons)
	}
	in := 0
	for _, p := range track.Points {
		truth := take.Truth.PulseRate(p.T)
		if e := math.Abs(float64(p.Tone)/truth - 1); e > 0.03 {
			t.Fatalf("%.2f s: %.2f Hz, truth %.2f", p.T, float64(p.Tone), truth)
		}
		if float64(p.Lo95) <= truth && truth <= float64(p.Hi95) {
			in++
		}
	}
	if n := len(track.Points); n < 130 || in < n*8/10 {
		t.Errorf("%d of %d points hold the truth, want some 95 %% of about 150", in, n)
	}
}

func TestAntiphaseChannelsDoNotCancel(t *testing.T) {
	rec, _ := taken(t, synth.Scene{Rate: 16000, Seconds: 2, Seed: 7, Noise: []synth.Noise{synth.White(5)},
		Channels: []synth.Channel{{}, {Inverted: true}},
		Rotors:   []synth.Rotor{{Pulses: 1, Profile: synth.Steady(83), RandomPhases: true}}})
	track, err := tacho.Follow(rec, tacho.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if track.Steady == nil || math.Abs(track.Steady.Tone.X-83) > 0.1 {
		t.Errorf("both channels: %v, want steady at 83 Hz", track)
	}
	mixed, err := tacho.Follow(rec, tacho.Options{Channel: tacho.MixDown})
	if err != nil {
		t.Fatal(err)
	}
	if mixed.Verdict != tacho.VerdictNoReading {
		t.Errorf("the mean of channels in antiphase reads %v, want no reading", mixed)
	}
}

func TestSilenceAndNoiseGiveNoReading(t *testing.T) {
	silent, err := tacho.NewRecording("silence", 16000, make([]float64, 32000))
	if err != nil {
		t.Fatal(err)
	}
	noise, _ := taken(t, synth.Scene{Rate: 16000, Seconds: 3, Seed: 8, Noise: []synth.Noise{synth.Pink(0)}})
	for name, rec := range map[string]*tacho.Recording{"silence": silent, "noise": noise} {
		for _, motion := range []tacho.Motion{tacho.Auto, tacho.Varying} {
			track, err := tacho.Follow(rec, tacho.Options{Motion: motion})
			if err != nil {
				t.Errorf("%s, %s: %v", name, motion, err)
				continue
			}
			if track.Verdict != tacho.VerdictNoReading || len(track.Reasons) == 0 {
				t.Errorf("%s, %s: verdict %q, reasons %v", name, motion, track.Verdict, track.Reasons)
			}
			if _, err := track.Peak(); !errors.Is(err, tacho.ErrNoReading) {
				t.Errorf("%s, %s: peak error %v, want ErrNoReading", name, motion, err)
			}
		}
	}
}

func TestOptionsOutOfRangeAreNamed(t *testing.T) {
	rec, _ := taken(t, synth.Scene{Rate: 8000, Seconds: 1, Seed: 9, Noise: []synth.Noise{synth.White(0)}})
	for name, opt := range map[string]tacho.Options{
		"negative pulses": {Pulses: -1},
		"falling range":   {Range: tacho.Range{Lo: 300, Hi: 30}},
		"range from zero": {Range: tacho.Range{Lo: 0, Hi: 30}},
		"NaN range":       {Range: tacho.Range{Lo: tacho.Hertz(math.NaN()), Hi: 30}},
		"above half fs":   {Range: tacho.Range{Lo: 5000, Hi: 6000}},
		"unknown motion":  {Motion: "wobbling"},
		"absent channel":  {Channel: 3},
		"NaN clock":       {ClockPPM: math.NaN()},
	} {
		if _, err := tacho.Follow(rec, opt); !errors.Is(err, tacho.ErrOption) {
			t.Errorf("%s: Follow says %v, want ErrOption", name, err)
		}
		if _, err := tacho.FindFamily(rec, opt); !errors.Is(err, tacho.ErrOption) {
			t.Errorf("%s: FindFamily says %v, want ErrOption", name, err)
		}
	}
	if _, err := tacho.Follow(nil, tacho.Options{}); !errors.Is(err, tacho.ErrNoSamples) {
		t.Errorf("no recording: %v, want ErrNoSamples", err)
	}
}

func TestContextEndsAMeasurement(t *testing.T) {
	rec, _ := taken(t, synth.Scene{Rate: 16000, Seconds: 20, Seed: 10, Noise: []synth.Noise{synth.Pink(0)}})
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := tacho.Follow(rec, tacho.Options{Context: ctx}); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want context.Canceled", err)
	}
}

// More noise must never shrink the stated uncertainty, and the clock adds to it.
func TestUncertaintyGrowsWithNoiseAndClock(t *testing.T) {
	scene := func(snr float64) *tacho.Recording {
		rec, _ := taken(t, synth.Scene{Rate: 8000, Seconds: 1, Seed: 11, Noise: []synth.Noise{synth.White(snr)},
			Rotors: []synth.Rotor{{Pulses: 1, Profile: synth.Steady(117), Harmonics: []float64{1, 1, 1}, RandomPhases: true}}})
		return rec
	}
	last := 0.0
	for _, snr := range []float64{20, 10, 0, -10} {
		f, err := tacho.FindFamily(scene(snr), tacho.Options{Motion: tacho.Steady, ClockPPM: -1})
		if err != nil {
			t.Fatalf("%v dB: %v", snr, err)
		}
		if u := f.Tone.U(); u < last {
			t.Errorf("%v dB: uncertainty %.5f Hz, less than with less noise, %.5f", snr, u, last)
		} else {
			last = u
		}
	}
	f, err := tacho.FindFamily(scene(20), tacho.Options{ClockPPM: 1000})
	if err != nil {
		t.Fatal(err)
	}
	if want := 117 * 1e-3; math.Abs(f.Tone.U()/want-1) > 0.05 {
		t.Errorf("with a clock of 1000 ppm the uncertainty is %.4f Hz, want %.4f", f.Tone.U(), want)
	}
}

// A rotor that coasts down and is heard only after a silence may have been faster
// before: the interval of the peak says so. Where the recording begins with it,
// there is no before.
func TestPeakAtTheEndOfWhatIsHeardIsLessCertain(t *testing.T) {
	_, take := taken(t, synth.Scene{Rate: 16000, Seconds: 5, Seed: 3, Noise: []synth.Noise{synth.White(20)},
		Rotors: []synth.Rotor{{Pulses: 7, Profile: synth.ExponentialRamp(20, 10, 0, 5), RandomPhases: true}}})
	x := take.Samples[0]
	const from = 16000 // samples
	peak := func(x []float64) *tacho.PeakSpeed {
		t.Helper()
		rec, err := tacho.NewRecording("coasting", 16000, x)
		if err != nil {
			t.Fatal(err)
		}
		track, err := tacho.Follow(rec, tacho.Options{Pulses: 7, Motion: tacho.Varying})
		if err != nil {
			t.Fatal(err)
		}
		p, err := track.Peak()
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	begun := peak(x[from:])
	silent := append(make([]float64, from), x[from:]...)
	late := peak(silent)
	truth := 7 * take.Truth.Speed(1)
	slope := 7 * (take.Truth.Speed(1) - take.Truth.Speed(1.1)) / 0.1
	if lo, hi := begun.Tone.CI95(); lo > truth || hi < truth || hi-lo > 0.05*slope {
		t.Errorf("from the start of a recording: %v..%v Hz, truth %v", lo, hi, truth)
	}
	if _, hi := late.Tone.CI95(); hi < truth+0.05*slope || late.T-late.TLo95 < 0.05 {
		t.Errorf("after a silence: up to %v Hz, from %v s on; it may have been %v Hz or more before %v s", hi, late.TLo95, truth+0.05*slope, late.T)
	}
	if late.THi95-late.T < 0.05 {
		t.Errorf("after a silence: up to %v s; it may not have gone on like that before %v s", late.THi95, late.T+0.05)
	}
}

// Ramps of 300 % per second that reach the edge of the recording, or begin and end
// amid it: no point is off by more than 3 %.
func TestSteepRampsAreFollowedToTheirEnds(t *testing.T) {
	for _, v := range []struct {
		name    string
		profile synth.Profile
		seconds float64
	}{
		{"rising from the start", synth.ExponentialRamp(22.5, 73, 0, 0.4), 1.6},
		{"falling to the end", synth.ExponentialRamp(90, 22, 0.8, 0.47), 1.27},
		{"from hold to hold", synth.ExponentialRamp(420, 150, 0.5, 0.35), 1.5},
	} {
		rec, take := taken(t, synth.Scene{Rate: 16000, Seconds: v.seconds, Seed: 8, Noise: []synth.Noise{synth.White(18)},
			Rotors: []synth.Rotor{{Pulses: 1, Profile: v.profile, PulseWidth: 0.1, RandomPhases: true}}})
		track, err := tacho.Follow(rec, tacho.Options{Pulses: 1, ClockPPM: -1})
		if err != nil {
			t.Fatal(err)
		}
		if n, most := len(track.Points), v.seconds/track.Step; float64(n) < 0.85*most {
			t.Errorf("%s: %d points of %.0f (%v)", v.name, n, most, track.Reasons)
		}
		for _, p := range track.Points {
			truth := take.Truth.PulseRate(p.T)
			if e := math.Abs(float64(p.Tone)/truth - 1); e > 0.03 {
				t.Errorf("%s, %.2f s: %.2f Hz, truth %.2f", v.name, p.T, float64(p.Tone), truth)
			}
		}
	}
}

// A rotor that a brief push throws from rest to its top speed within half a second moves
// as few rotors do and most voices: that its lines keep their phases all the while tells
// it from them.
func TestBriefPushesAreNoVoices(t *testing.T) {
	read := 0
	const all = 6
	for seed := range uint64(all) {
		top := 55 + 18*float64(seed)
		rec, take := taken(t, synth.Scene{Rate: 16000, Seconds: 3, Seed: seed, Noise: []synth.Noise{synth.White(12)},
			Rotors: []synth.Rotor{{Pulses: 5, PulseWidth: 0.08, RandomPhases: true, GainSpread: 0.03, AngleSpread: 0.004, Growth: 2,
				Profile: synth.Trial(synth.Friction{Coulomb: top / 60, Viscous: 0.8, Quadratic: 2.5 / top}, synth.Push{Start: 0.9, Seconds: 0.25, Accel: top * 2, Rise: 0.02})}}})
		track, err := tacho.Follow(rec, tacho.Options{Pulses: 5, ClockPPM: -1})
		if err != nil {
			t.Fatal(err)
		}
		off := gross(track, take)
		if n := len(track.Points); n > 30 && 50*off <= n {
			read++
		} else {
			t.Logf("top of the push %g rev/s: %d of %d points off, %v", top, off, n, track.Reasons)
		}
	}
	if read < all {
		t.Errorf("%d of %d pushes read", read, all)
	}
}
