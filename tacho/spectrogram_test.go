package tacho

import (
	"errors"
	"math"
	"testing"
)

// Every row is the spectrum of its own block: the same numbers as NewSpectrum
// gives for those samples, to the precision they are kept in.
func TestSpectrogramRowsAreSpectra(t *testing.T) {
	x, y := whiteNoise(1000, 0.3, 1), whiteNoise(1000, 0.2, 2)
	rec, err := NewRecording("x", 8000, x, y)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name    string
		opt     SpectrogramOptions
		times   int
		samples [][]float64
	}{
		{"first channel", SpectrogramOptions{Len: 128, Hop: 50, Channel: 1}, 18, [][]float64{x}},
		{"both channels", SpectrogramOptions{Len: 128, Hop: 50}, 18, [][]float64{x, y}},
		{"padded, flat-top", SpectrogramOptions{Len: 100, FFTLen: 160, Window: HFT95, Channel: 2}, 38, [][]float64{y}},
		{"one block", SpectrogramOptions{Len: 1000, Channel: 1}, 1, [][]float64{x}},
		{"hop longer than a block", SpectrogramOptions{Len: 100, Hop: 300, Channel: 1}, 4, [][]float64{x}},
		{"band", SpectrogramOptions{Len: 128, Hop: 50, Channel: 1, Band: Range{500, 1000}}, 18, [][]float64{x}},
	} {
		g, err := rec.Spectrogram(c.opt)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if len(g.Times) != c.times {
			t.Errorf("%s: %d times, want %d", c.name, len(g.Times), c.times)
		}
		for i, at := range g.Times {
			start := i * g.Hop
			if want := (float64(start) + float64(g.Len)/2) / 8000; math.Abs(at-want) > 1e-12 {
				t.Errorf("%s: time %d is %v, want %v", c.name, i, at, want)
			}
			var of []*Spectrum
			for _, samples := range c.samples {
				s, err := NewSpectrum(samples[start:start+g.Len], 8000, SpectrumOptions{Window: c.opt.Window, FFTLen: g.FFTLen})
				if err != nil {
					t.Fatal(err)
				}
				of = append(of, s)
			}
			for k, f := range g.Freqs {
				bin := of[0].Bin(Hertz(f))
				if of[0].Freq(bin) != Hertz(f) {
					t.Fatalf("%s: frequency %v is not the centre of a bin", c.name, f)
				}
				want := 0.0
				for _, s := range of {
					want += s.Amplitude(bin) * s.Amplitude(bin) / float64(len(of))
				}
				want = math.Sqrt(want)
				if math.Abs(g.At(i, k)-want) > 1e-6*want+1e-12 {
					t.Fatalf("%s: At(%d, %d) = %v, want %v", c.name, i, k, g.At(i, k), want)
				}
			}
		}
	}
	g, _ := rec.Spectrogram(SpectrogramOptions{Len: 128, Band: Range{500, 1000}})
	if g.Freqs[0] != 500 || g.Freqs[len(g.Freqs)-1] != 1000 || len(g.Freqs) != 9 {
		t.Errorf("the band 500 to 1000 Hz has the frequencies %v", g.Freqs)
	}
}

// The special information tone: 950, 1400 and 1800 Hz for a third of a second
// each (ITU-T Recommendation E.180). The strongest line follows the steps.
func TestSpectrogramFollowsSteps(t *testing.T) {
	const fs = 8000
	tones := []float64{950, 1400, 1800}
	x := make([]float64, fs)
	for j := range x {
		step := min(j*3/fs, 2)
		x[j] = 0.5 * math.Sin(2*math.Pi*tones[step]*float64(j)/fs)
	}
	rec, err := NewRecording("information tone", fs, x)
	if err != nil {
		t.Fatal(err)
	}
	g, err := rec.Spectrogram(SpectrogramOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if g.Len != 512 || g.Hop != 256 {
		t.Errorf("blocks of %d samples every %d, want the power of two nearest to 50 ms, 512, every 256", g.Len, g.Hop)
	}
	for i, at := range g.Times {
		half := float64(g.Len) / fs / 2
		step := int(at * 3)
		if int((at-half)*3) != int(math.Min((at+half)*3, 2.999)) {
			continue // the block holds two tones
		}
		top := 0
		for k := range g.Freqs {
			if g.At(i, k) > g.At(i, top) {
				top = k
			}
		}
		if math.Abs(g.Freqs[top]-tones[step]) > 8000.0/512/2 {
			t.Errorf("at %.3f s the strongest line is at %.1f Hz, want %.0f", at, g.Freqs[top], tones[step])
		}
	}
	a, i, k := g.Max()
	if a != g.At(i, k) || a < 0.42 || a > 0.51 {
		t.Errorf("Max = %v at time %d, frequency %d", a, i, k)
	}
}

func TestSpectrogramRefuses(t *testing.T) {
	rec, _ := NewRecording("x", 48000, make([]float64, 48000))
	long, _ := NewRecording("long", 48000, make([]float64, 1_000_000))
	for _, c := range []struct {
		name string
		rec  *Recording
		opt  SpectrogramOptions
		kind error
	}{
		{"block too long", rec, SpectrogramOptions{Len: 50000}, ErrTooShort},
		{"block negative", rec, SpectrogramOptions{Len: -1}, ErrOption},
		{"hop negative", rec, SpectrogramOptions{Hop: -1}, ErrOption},
		{"transform too short", rec, SpectrogramOptions{Len: 512, FFTLen: 256}, ErrOption},
		{"band upside down", rec, SpectrogramOptions{Band: Range{2000, 1000}}, ErrOption},
		{"band above half the rate", rec, SpectrogramOptions{Band: Range{30000, 40000}}, ErrOption},
		{"band between two bins", rec, SpectrogramOptions{Len: 512, Band: Range{100, 150}}, ErrOption},
		{"too large", long, SpectrogramOptions{Len: 2048, Hop: 1}, ErrOption},
	} {
		if g, err := c.rec.Spectrogram(c.opt); !errors.Is(err, c.kind) {
			t.Errorf("%s: %v, %v, want %v", c.name, g, err, c.kind)
		}
	}
	g, err := rec.Spectrogram(SpectrogramOptions{})
	if err != nil || !math.IsInf(g.DB(0, 0), -1) {
		t.Errorf("silence: %v, %v", g, err)
	}
}

// A spectrogram takes its memory once, whatever the number of blocks.
func TestSpectrogramAllocatesNothingForABlock(t *testing.T) {
	count := func(blocks int) float64 {
		rec, err := NewRecording("longer and longer", 8000, make([]float64, 256+(blocks-1)*64))
		if err != nil {
			t.Fatal(err)
		}
		return testing.AllocsPerRun(3, func() {
			if _, err := rec.Spectrogram(SpectrogramOptions{Len: 256, Hop: 64}); err != nil {
				t.Error(err)
			}
		})
	}
	few, many := count(500), count(8000)
	if many > few+100 {
		t.Errorf("%g allocations for 8000 blocks, %g for 500", many, few)
	}
}
