package tacho_test

import (
	"context"
	"errors"
	"runtime"
	"sync"
	"testing"
	"time"

	"rotorhum/tacho"
	"rotorhum/tacho/figure"
	"rotorhum/tacho/synth"
)

// looks is a context that counts how often it is asked whether it has ended,
// and ends at one of these looks.
type looks struct {
	context.Context
	mu      sync.Mutex
	end     int // the look at which it ends; 0 for never
	count   int
	last    time.Time
	longest time.Duration // between two looks
}

func (l *looks) Err() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := time.Now()
	if l.count > 0 {
		l.longest = max(l.longest, now.Sub(l.last))
	}
	l.count, l.last = l.count+1, now
	if l.end > 0 && l.count >= l.end {
		return context.Canceled
	}
	return nil
}

// pushes is a recording of a five-vane rotor that speeds up and slows down again.
func pushes(t testing.TB, seconds float64) *tacho.Recording {
	scene := synth.Scene{Rate: 44100, Seconds: seconds, Seed: 7,
		Rotors: []synth.Rotor{{Pulses: 5, Profile: synth.Ramp(4, 14, 0.5, seconds-0.5)}},
		Noise:  []synth.Noise{{SNR: 20}}}
	take, err := scene.Make()
	if err != nil {
		t.Fatal(err)
	}
	rec, err := tacho.NewRecording("pushes", 44100, take.Samples...)
	if err != nil {
		t.Fatal(err)
	}
	return rec
}

// Wherever a measurement is when its context ends, it gives up at the next look
// of each of its goroutines, and leaves none behind.
func TestFollowStopsWhereverItIs(t *testing.T) {
	rec := pushes(t, 2)
	all := &looks{Context: context.Background()}
	if track, err := tacho.Follow(rec, tacho.Options{Pulses: 5, Context: all}); err != nil || track.Verdict != tacho.VerdictVarying {
		t.Fatal(track, err)
	}
	if all.count < 300 {
		t.Fatalf("%d looks in the whole measurement: too few to stop soon", all.count)
	}
	before := runtime.NumGoroutine()
	const points = 12
	for i := 1; i <= points; i++ {
		l := &looks{Context: context.Background(), end: all.count * i / (points + 1)}
		if _, err := tacho.Follow(rec, tacho.Options{Pulses: 5, Context: l}); !errors.Is(err, context.Canceled) {
			t.Errorf("ended at look %d of %d: error %v", l.end, all.count, err)
		}
		// each goroutine may look once more, and the caller twice
		if more := l.count - l.end; more > runtime.GOMAXPROCS(0)+2 {
			t.Errorf("ended at look %d of %d: %d more", l.end, all.count, more)
		}
	}
	for range 1000 { // those that have done their work may still be ending
		if runtime.NumGoroutine() <= before {
			return
		}
		time.Sleep(time.Millisecond)
	}
	t.Errorf("%d goroutines before, %d after", before, runtime.NumGoroutine())
}

// wanting returns the error of work that was ended and has given nothing.
func wanting[T any](got []T) error {
	if got == nil {
		return context.Canceled
	}
	return nil
}

// Every other call that may take long gives up as soon: what it takes to stop is
// counted in looks, so that the test does not depend on the machine.
func TestLongCallsStop(t *testing.T) {
	rec := pushes(t, 4)
	tone, err := synth.Scene{Rate: 8000, Seconds: 8, Seed: 3,
		Rotors: []synth.Rotor{{Pulses: 5, Profile: synth.CoastDown(30, synth.Friction{Coulomb: 1, Viscous: 0.1})}}, Noise: []synth.Noise{{SNR: 20}}}.Make()
	if err != nil {
		t.Fatal(err)
	}
	coast, err := tacho.NewRecording("coast", 8000, tone.Samples...)
	if err != nil {
		t.Fatal(err)
	}
	track, err := tacho.Follow(coast, tacho.Options{Pulses: 5})
	if err != nil || len(track.Points) == 0 {
		t.Fatal(track, err)
	}
	rotor := tacho.Rotor{Pulses: 5}
	m, err := tacho.NewMeasurement(coast, rotor, track)
	if err != nil {
		t.Fatal(err)
	}
	spectrum, err := rec.Spectrum(tacho.SpectrumOptions{})
	if err != nil {
		t.Fatal(err)
	}
	gram, err := rec.Spectrogram(tacho.SpectrogramOptions{})
	if err != nil {
		t.Fatal(err)
	}
	heat, err := figure.Spectrogram(gram, nil)
	if err != nil {
		t.Fatal(err)
	}
	length := tacho.Measured(1, 0.1, "m", "ruler")
	busy := synth.Scene{Rate: 8000, Seconds: 20, Seed: 5, ClockPPM: 10,
		Rotors: []synth.Rotor{{Pulses: 5, Profile: synth.Steady(12), Jet: &synth.Jet{LevelDB: -10}}, {Pulses: 3, Profile: synth.Steady(7)}},
		Voices: []synth.Voice{{}}, Music: []synth.Music{{}}, Clicks: []synth.Clicks{{PerSecond: 5}},
		Room: &synth.Room{RT60: 0.3}, Noise: []synth.Noise{{SNR: 20, Gust: 3}, synth.Pink(20)}, Mains: []synth.Mains{{Hz: 50}},
		Channels: []synth.Channel{{}, {Delay: 0.0001234}}, Microphone: &synth.Microphone{HighPass: 50}, Clip: 0.01,
		GainControl: &synth.GainControl{Strength: 0.5, Steps: []synth.GainStep{{T: 1, Gain: -3}}},
		Codec:       &synth.Codec{Low: 300, High: 3400, Companded: true}}
	for _, c := range []struct {
		what  string
		least int // looks in the whole call
		call  func(ctx context.Context) error
	}{
		{"FindFamily", 10, func(ctx context.Context) error {
			_, err := tacho.FindFamily(rec, tacho.Options{Pulses: 5, Context: ctx})
			return err
		}},
		{"InspectFamily", 100, func(ctx context.Context) error {
			_, err := tacho.InspectFamily(rec, tacho.Options{Pulses: 5, Context: ctx})
			return err
		}},
		{"Inspect", 300, func(ctx context.Context) error {
			_, err := tacho.Inspect(rec, tacho.Options{Pulses: 5, Context: ctx})
			return err
		}},
		{"Spectrum of blocks", 100, func(ctx context.Context) error {
			_, err := rec.Spectrum(tacho.SpectrumOptions{Len: 2048, Context: ctx})
			return err
		}},
		{"Spectrum of the whole", 20, func(ctx context.Context) error {
			_, err := rec.Spectrum(tacho.SpectrumOptions{Context: ctx})
			return err
		}},
		{"Peaks", 500, func(ctx context.Context) error {
			return wanting(spectrum.Peaks(0, tacho.Watch{Context: ctx}))
		}},
		{"PeaksBy", 500, func(ctx context.Context) error {
			_, err := spectrum.PeaksBy(tacho.LogParabola, 0, tacho.Watch{Context: ctx})
			return err
		}},
		{"Floor", 500, func(ctx context.Context) error {
			return wanting(spectrum.Floor(tacho.Watch{Context: ctx}))
		}},
		{"Tones", 20, func(ctx context.Context) error {
			return wanting(synth.Tones([]float64{1, 2}, nil, 8000, 200_000, synth.Watch{Context: ctx}))
		}},
		{"Hum", 10, func(ctx context.Context) error {
			return wanting(synth.Hum(50, []float64{1}, 8000, 200_000, synth.Watch{Context: ctx}))
		}},
		{"Tone", 10, func(ctx context.Context) error {
			return wanting(synth.Tone(50, 8000, 200_000, synth.Watch{Context: ctx}))
		}},
		{"Chirp", 10, func(ctx context.Context) error {
			return wanting(synth.Chirp(50, 100, 8000, 200_000, synth.Watch{Context: ctx}))
		}},
		{"Square", 10, func(ctx context.Context) error {
			return wanting(synth.Square(50, 8000, 200_000, synth.Watch{Context: ctx}))
		}},
		{"Sawtooth", 10, func(ctx context.Context) error {
			return wanting(synth.Sawtooth(50, 8000, 200_000, synth.Watch{Context: ctx}))
		}},
		{"Triangle", 10, func(ctx context.Context) error {
			return wanting(synth.Triangle(50, 8000, 200_000, synth.Watch{Context: ctx}))
		}},
		{"PulseTrain", 10, func(ctx context.Context) error {
			return wanting(synth.PulseTrain(50, 0.2, 8000, 200_000, synth.Watch{Context: ctx}))
		}},
		{"WhiteNoise", 10, func(ctx context.Context) error {
			return wanting(synth.WhiteNoise(synth.Source(1), 1, 200_000, synth.Watch{Context: ctx}))
		}},
		{"ColouredNoise", 20, func(ctx context.Context) error {
			return wanting(synth.ColouredNoise(synth.Source(1), 1, -3, 0, 0, 8000, 200_000, synth.Watch{Context: ctx}))
		}},
		{"WAV", 4, func(ctx context.Context) error {
			_, err := tone.WAV(24, synth.Watch{Context: ctx})
			return err
		}},
		{"NewSpectrum", 5, func(ctx context.Context) error {
			_, err := tacho.NewSpectrum(rec.Channel(1), rec.Rate, tacho.SpectrumOptions{Len: 1 << 15, Context: ctx})
			return err
		}},
		{"Spectrogram", 100, func(ctx context.Context) error {
			_, err := rec.Spectrogram(tacho.SpectrogramOptions{Context: ctx})
			return err
		}},
		{"FindBeat", 100, func(ctx context.Context) error {
			_, err := tacho.FindBeatWith(track, rotor, tacho.BeatSteady, 0.5, 10, tacho.Watch{Context: ctx})
			return err
		}},
		{"FitCoastDown", 1000, func(ctx context.Context) error {
			_, err := tacho.FitCoastDownWith(track, rotor, 0, 0, tacho.Watch{Context: ctx})
			return err
		}},
		{"MonteCarlo", 50, func(ctx context.Context) error {
			_, err := tacho.MonteCarloWith(tacho.Watch{Context: ctx}, "m", func(x []float64) float64 { return x[0] }, 200_000, 1, length)
			return err
		}},
		{"Make", 100, func(ctx context.Context) error {
			_, err := busy.MakeWith(synth.Watch{Context: ctx})
			return err
		}},
		{"Waveform", 3, func(ctx context.Context) error {
			_, err := figure.Waveform(rec, figure.View{Context: ctx})
			return err
		}},
		{"figure of a spectrum", 100, func(ctx context.Context) error {
			_, err := figure.Spectrum(spectrum, nil, figure.View{Context: ctx})
			return err
		}},
		{"Raster", 10, func(ctx context.Context) error {
			_, err := heat.Raster(2, tacho.Watch{Context: ctx})
			return err
		}},
		{"Raster at the largest scale", 1000, func(ctx context.Context) error {
			_, err := heat.Raster(8, tacho.Watch{Context: ctx})
			return err
		}},
		{"figure of a spectrogram", 100, func(ctx context.Context) error {
			_, err := figure.Spectrogram(gram, nil, figure.View{Context: ctx})
			return err
		}},
		{"Story", 100, func(ctx context.Context) error {
			_, err := figure.StoryWith(coast, m, tacho.Watch{Context: ctx})
			return err
		}},
	} {
		all := &looks{Context: context.Background()}
		_ = c.call(all) // FindBeat may find none
		if all.count < c.least {
			t.Errorf("%s: %d looks in the whole call, want at least %d", c.what, all.count, c.least)
			continue
		}
		const points = 7
		for i := range points + 1 {
			l := &looks{Context: context.Background(), end: 1 + (all.count-1)*i/(points+1)}
			err := c.call(l)
			if !errors.Is(err, context.Canceled) {
				t.Errorf("%s, ended at look %d of %d: error %v", c.what, l.end, all.count, err)
			}
			// What is left of a recording may look once more in each of its loops,
			// but does nothing; a tenth of the work would be too much.
			if more, most := l.count-l.end, max(runtime.GOMAXPROCS(0)+3, all.count/10); more > most {
				t.Errorf("%s, ended at look %d of %d: %d more", c.what, l.end, all.count, more)
			}
		}
	}
}

// The longest time between two looks is how long an interrupt may have to wait.
func BenchmarkLongestTimeBetweenLooks(b *testing.B) {
	rec := pushes(b, 120)
	var longest time.Duration
	for b.Loop() {
		l := &looks{Context: context.Background()}
		if _, err := tacho.Follow(rec, tacho.Options{Pulses: 5, Context: l}); err != nil {
			b.Fatal(err)
		}
		longest = max(longest, l.longest)
	}
	b.ReportMetric(float64(longest.Microseconds())/1000, "ms/longest")
}
