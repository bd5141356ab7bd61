package tacho

import (
	"errors"
	"fmt"
	"math"
	"testing"
)

// ITU-T Recommendation Q.23: a push-button sends one low and one high tone, each
// within ±1.8 % of nominal.
var dtmfKeys = map[string][2]Hertz{
	"1": {697, 1209}, "2": {697, 1336}, "3": {697, 1477}, "A": {697, 1633},
	"4": {770, 1209}, "5": {770, 1336}, "6": {770, 1477}, "B": {770, 1633},
	"7": {852, 1209}, "8": {852, 1336}, "9": {852, 1477}, "C": {852, 1633},
	"*": {941, 1209}, "0": {941, 1336}, "#": {941, 1477}, "D": {941, 1633},
}

// The pairs are found and told apart in a 16-bit recording of 50 ms at 8 kHz with
// noise 20 dB below them: within the ±1.8 % of the standard, and in fact within
// a tenth of that.
func TestPeaksFindDTMF(t *testing.T) {
	const fs, n = 8000, 400
	for key, pair := range dtmfKeys {
		x := whiteNoise(n, 0.035, 11)
		for j := range x {
			at := float64(j) / fs
			x[j] += 0.25*math.Sin(2*math.Pi*float64(pair[0])*at) + 0.25*math.Sin(2*math.Pi*float64(pair[1])*at+1)
		}
		rec, err := readBytes(wavSpec{channels: 1, rate: fs, bits: 16, samples: [][]float64{x}}.build())
		if err != nil {
			t.Fatal(err)
		}
		s, err := rec.Spectrum(SpectrumOptions{})
		if err != nil {
			t.Fatal(err)
		}
		peaks := s.Peaks(2)
		if len(peaks) != 2 {
			t.Errorf("key %s: peaks %v, want two", key, peaks)
			continue
		}
		low, high := peaks[0].Freq, peaks[1].Freq
		if low > high {
			low, high = high, low
		}
		for i, got := range []Hertz{low, high} {
			if off := math.Abs(float64(got/pair[i] - 1)); off > 0.0018 {
				t.Errorf("key %s: read %v, sent %v: %.2f %% off", key, got, pair[i], 100*off)
			}
		}
	}
}

// The tones of the North American precise tone plan and of ITU-T E.180 (national
// lists): dialling 350 and 440 Hz, busy 480 and 620, ringing 440 and 480, 425 in
// most of Europe. Half a second tells each pair apart.
func TestPeaksFindCallTones(t *testing.T) {
	const fs, n = 8000.0, 4000
	for what, tones := range map[string][]Hertz{"dial": {350, 440}, "busy": {480, 620}, "ringing": {440, 480}, "E.180": {425}} {
		x := whiteNoise(n, 0.05, 6)
		for j := range x {
			for i, f := range tones {
				x[j] += math.Sin(2*math.Pi*float64(f)*float64(j)/fs + float64(i))
			}
		}
		s, err := NewSpectrum(x, fs, SpectrumOptions{})
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range s.Peaks(len(tones)) {
			nearest := math.Inf(1)
			for _, f := range tones {
				nearest = math.Min(nearest, math.Abs(float64(p.Freq-f)))
			}
			if nearest > 0.05 {
				t.Errorf("%s: a peak at %v, sent %v", what, p.Freq, tones)
			}
		}
	}
}

// The special information tone of ITU-T E.180: 950, 1400 and 1800 Hz, a third of a
// second each, and a second's pause. In a spectrogram each block shows its step.
func TestSpectrogramShowsSteps(t *testing.T) {
	const fs = 8000.0
	steps := []float64{950, 1400, 1800, 0}
	x := whiteNoise(16000, 1e-3, 8)
	for j := range x {
		at := float64(j) / fs
		if i := int(at / 0.33); i < 3 {
			x[j] += math.Sin(2 * math.Pi * steps[i] * at)
		}
	}
	rec, err := NewRecording("tones", fs, x)
	if err != nil {
		t.Fatal(err)
	}
	sg, err := rec.Spectrogram(SpectrogramOptions{Len: 512})
	if err != nil {
		t.Fatal(err)
	}
	seen := map[float64]int{}
	for i, at := range sg.Times {
		step := min(int(at/0.33), 3)
		if into := at - 0.33*float64(step); into < 0.04 || step < 3 && into > 0.29 {
			continue // a block that holds two of them
		}
		top := 0
		for k := range sg.Freqs {
			if sg.DB(i, k) > sg.DB(i, top) {
				top = k
			}
		}
		switch want := steps[step]; {
		case want == 0 && sg.DB(i, top) > -40:
			t.Errorf("%.3f s: %.0f dB at %g Hz in the pause", at, sg.DB(i, top), sg.Freqs[top])
		case want > 0 && math.Abs(sg.Freqs[top]-want) > fs/512:
			t.Errorf("%.3f s: loudest at %g Hz, sent %g", at, sg.Freqs[top], want)
		default:
			seen[want]++
		}
	}
	if len(seen) != 4 {
		t.Errorf("blocks of each step: %v", seen)
	}
}

// Two close tones, 440 and 480 Hz as in the ringing signal of the North American
// tone plan, are two peaks once the block is long enough for the window's width,
// and one hump before. Zero padding is no help.
func TestResolutionNeedsLength(t *testing.T) {
	const fs = 8000.0
	tones := func(n int) []float64 {
		x := whiteNoise(n, 1e-4, 2)
		for j := range x {
			x[j] += math.Sin(2*math.Pi*440*float64(j)/fs) + math.Sin(2*math.Pi*480*float64(j)/fs+2)
		}
		return x
	}
	for _, c := range []struct{ n, padded, peaks int }{{200, 200, 1}, {200, 6400, 1}, {600, 600, 2}, {600, 6400, 2}, {8000, 8000, 2}} {
		s, err := NewSpectrum(tones(c.n), fs, SpectrumOptions{FFTLen: c.padded})
		if err != nil {
			t.Fatal(err)
		}
		near := 0
		for _, p := range s.Peaks(0) {
			if p.Freq > 380 && p.Freq < 540 {
				near++
			}
		}
		if near != c.peaks {
			t.Errorf("%d samples, transform %d, lines %v wide: %d peaks near 440 and 480 Hz, want %d", c.n, c.padded, s.Resolution(), near, c.peaks)
		}
	}
}

// Frequency, amplitude and phase of a lone tone, for every window and for
// padding, wherever it lies between the bins.
func TestPeakReadsTone(t *testing.T) {
	const fs, n = 8000.0, 1000
	for _, w := range Windows() {
		for _, nfft := range []int{n, 4 * n} {
			for i := 0; i < 11; i++ {
				f := 1200 + 0.8*float64(i) // one bin is 8 Hz
				x := make([]float64, n)
				for j := range x {
					x[j] = 0.3 * math.Cos(2*math.Pi*f*float64(j)/fs+0.9)
				}
				s, err := NewSpectrum(x, fs, SpectrumOptions{Window: w, FFTLen: nfft})
				if err != nil {
					t.Fatal(err)
				}
				peaks := s.Peaks(0)
				if len(peaks) != 1 {
					t.Errorf("%s, transform %d: a tone at %.1f Hz gives %d peaks: %v", w, nfft, f, len(peaks), peaks)
					continue
				}
				p := peaks[0]
				// Where side lobes are high, the image at -1200 Hz, 300 bins
				// away, pulls: a rectangle leaks 1/(300π) of it, 0.001 bins.
				tol := 2e-4 * 8.0
				if w == Bartlett || w == Rectangle || w == Welch || w == Hamming {
					tol = 2e-3 * 8
				}
				if math.Abs(float64(p.Freq)-f) > tol {
					t.Errorf("%s, transform %d: a tone at %.1f Hz reads %.4f Hz", w, nfft, f, float64(p.Freq))
				}
				if math.Abs(p.Amp/0.3-1) > 0.003 || math.Abs(math.Remainder(p.Phase-0.9, 2*math.Pi)) > 0.01 {
					t.Errorf("%s, transform %d, %.1f Hz: amplitude %.4f, phase %.3f; want 0.3 and 0.9", w, nfft, f, p.Amp, p.Phase)
				}
			}
		}
	}
}

// The stated uncertainty of a peak is the scatter that noise really gives it,
// and for a rectangular window near the centre of a bin it is the Cramér-Rao
// bound √24 σ fs / (2π A √(n(n²-1))) (S. M. Kay 1993, example 3.14).
func TestPeakUncertainty(t *testing.T) {
	ownReading := Interpolator{} // stands for Peaks
	const fs, n, A, sd, draws = 8000.0, 512, 0.5, 0.1, 250
	bound := math.Sqrt(24) * sd * fs / (2 * math.Pi * A * math.Sqrt(n*(n*n-1)))
	for _, c := range []struct {
		opt SpectrumOptions
		by  Interpolator
	}{
		{SpectrumOptions{Window: Rectangle}, Candan2013},
		{SpectrumOptions{Window: Hann}, HannThreeLine},
		{SpectrumOptions{Window: Hann}, LogParabola},
		{SpectrumOptions{Window: BlackmanHarris, FFTLen: 2 * n}, LogParabola},
		{SpectrumOptions{Window: Hann, FFTLen: 4 * n}, ownReading},
		{SpectrumOptions{Window: HFT95}, ownReading},
	} {
		for _, cycles := range []float64{100, 100.3} {
			name := fmt.Sprintf("%v, %v, tone %.1f bins up", c.opt.Window, c.by, cycles)
			var sum, squares, stated float64
			for d := range draws {
				x := whiteNoise(n, sd, uint64(d))
				for j, v := range cosine(n, A, cycles, float64(d)) {
					x[j] += v
				}
				s, err := NewSpectrum(x, fs, c.opt)
				if err != nil {
					t.Fatal(err)
				}
				p := s.Peaks(1)
				if c.by != ownReading {
					p, err = s.PeaksBy(c.by, 1)
				}
				if err != nil || len(p) != 1 {
					t.Fatalf("%s: %v, %v", name, p, err)
				}
				sum += float64(p[0].Freq) / draws
				squares += float64(p[0].Freq*p[0].Freq) / draws
				stated += float64(p[0].FreqU*p[0].FreqU) / draws
			}
			scatter := math.Sqrt(squares - sum*sum)
			u := math.Sqrt(stated)
			// The scatter of 250 draws is known to 1/√500 = 4.5 %; three of those.
			// The floor is a median over 128 bins and adds a few per cent; the
			// leakage of a rectangle off the centre of a bin lifts it more.
			most := 1.15
			if c.opt.Window == Rectangle && cycles != 100 {
				most = 1.6
			}
			if u < 0.87*scatter || u > most*scatter {
				t.Errorf("%s: states %.4f Hz, scatters by %.4f Hz", name, u, scatter)
			}
			if scatter < 0.93*bound {
				t.Errorf("%s: scatters by %.4f Hz, less than the bound %.4f Hz allows", name, scatter, bound)
			}
			// At the centre of a bin Jacobsen's formula has π²/6 times the
			// variance of the bound: σ²/(A²n) against 24σ²/(4π²A²n) bins².
			if want := math.Sqrt(math.Pi*math.Pi/6) * bound; c.by == Candan2013 && cycles == 100 && math.Abs(scatter/want-1) > 0.12 {
				t.Errorf("%s: scatters by %.4f Hz, want %.4f Hz", name, scatter, want)
			}
		}
	}
}

// White noise alone has no peaks, and a weak tone beside a strong one is found
// where the window's side lobes are low enough and not where they hide it.
func TestPeaksInNoiseAndLeakage(t *testing.T) {
	found := 0
	for seed := range uint64(200) {
		s, err := NewSpectrum(whiteNoise(4096, 1, seed), 8000, SpectrumOptions{})
		if err != nil {
			t.Fatal(err)
		}
		found += len(s.Peaks(0))
	}
	if found > 1 { // 200 × 2048 bins at 10⁻⁷ each, times the scatter of the floor
		t.Errorf("%d peaks in 200 spectra of white noise", found)
	}
	x := make([]float64, 2000)
	for j := range x {
		x[j] = math.Sin(2*math.Pi*1003*float64(j)/8000) + 1e-4*math.Sin(2*math.Pi*1203*float64(j)/8000)
	}
	for w, want := range map[Window]int{Rectangle: 1, Hann: 2, BlackmanHarris: 2, HFT95: 2} {
		s, err := NewSpectrum(x, 8000, SpectrumOptions{Window: w})
		if err != nil {
			t.Fatal(err)
		}
		if got := s.Peaks(0); len(got) != want {
			t.Errorf("%s: tones 80 dB apart give peaks %v, want %d", w, got, want)
		}
	}
}

func TestPeaksByNeedsPhases(t *testing.T) {
	x := cosine(1000, 1, 100, 0)
	s, err := NewSpectrum(x, 1000, SpectrumOptions{Len: 200, Window: Rectangle})
	if err != nil {
		t.Fatal(err)
	}
	for _, by := range Interpolators() {
		_, err := s.PeaksBy(by, 1)
		if by.NeedsPhase() != errors.Is(err, ErrOption) || !by.NeedsPhase() && err != nil {
			t.Errorf("%v on averaged blocks: %v", by, err)
		}
	}
	if p := s.Peaks(1); len(p) != 1 || math.Abs(float64(p[0].Freq)-100) > 0.1 || !math.IsNaN(p[0].Phase) {
		t.Errorf("averaged blocks: %v", p)
	}
}
