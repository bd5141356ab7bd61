package tacho

import (
	"errors"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"sort"
	"testing"
)

func cosine(n int, amplitude, cycles, phase float64) []float64 {
	x := make([]float64, n)
	for j := range x {
		x[j] = amplitude * math.Cos(2*math.Pi*cycles*float64(j)/float64(n)+phase)
	}
	return x
}

func whiteNoise(n int, sd float64, seed uint64) []float64 {
	rng := rand.New(rand.NewPCG(seed, 1))
	x := make([]float64, n)
	for j := range x {
		x[j] = sd * rng.NormFloat64()
	}
	return x
}

// Section 13 of Heinzel, Rüdiger and Schilling 2002: their test signal at 10 kHz,
// 2√2 V at 1234 Hz and 1 V at 2500.2157 Hz, rounded to 1 mV, through HFT95 in
// blocks of 4096. They expect 2 and 0.7071 V RMS and a rounding noise of
// u_lsb/√(6 fs) = 4.08 µV/√Hz.
func TestHeinzelTestSignal(t *testing.T) {
	const fs, lsb = 10000.0, 1e-3
	x := make([]float64, 1_000_000)
	for j := range x {
		at := float64(j) / fs
		v := 2.82842712474619*math.Sin(2*math.Pi*1234*at) + math.Sin(2*math.Pi*2500.2157*at)
		x[j] = lsb * math.Floor(v/lsb+0.5)
	}
	s, err := NewSpectrum(x, fs, SpectrumOptions{Window: HFT95, Len: 4096})
	if err != nil {
		t.Fatal(err)
	}
	top := func(s *Spectrum, f Hertz) float64 {
		k := s.Bin(f)
		return max(s.RMS(k-1), s.RMS(k), s.RMS(k+1))
	}
	const tol = 0.0005 // HFT95 is flat within 0.0044 dB
	for f, want := range map[Hertz]float64{1234: 2, 2500.2157: math.Sqrt(0.5)} {
		if got := top(s, f); math.Abs(got/want-1) > tol {
			t.Errorf("HFT95 reads %.5f V RMS at %v, want %.4f", got, f, want)
		}
	}
	var floor []float64
	for k := s.Bin(3500); k < s.Bin(4800); k++ {
		floor = append(floor, math.Sqrt(s.Density(k)))
	}
	sort.Float64s(floor)
	want := lsb / math.Sqrt(6*fs)
	if got := floor[len(floor)/2]; math.Abs(got/want-1) > 0.1 {
		t.Errorf("median noise %.3g V/√Hz, want %.3g within 10 %%", got, want)
	}
	// Why one does not read amplitudes through Hann: 1234 Hz lies 0.45 bins off
	// and reads 12 % low (recomputed: 1.756 V).
	h, err := NewSpectrum(x, fs, SpectrumOptions{Window: Hann, Len: 4096})
	if err != nil {
		t.Fatal(err)
	}
	if got := top(h, 1234); math.Abs(got-1.756) > 0.002 {
		t.Errorf("Hann reads %.4f V RMS, expected it to misread 1.756", got)
	}
	// Unless the peak is read between the bins.
	p := h.Peaks(2)
	if len(p) != 2 {
		t.Fatalf("peaks %v, want two", p)
	}
	if math.Abs(p[0].Amp/math.Sqrt2-2) > 2*tol || math.Abs(float64(p[0].Freq)-1234) > 0.01 ||
		math.Abs(float64(p[1].Freq)-2500.2157) > 0.01 {
		t.Errorf("peaks %v and %v, want 2√2 V at 1234 Hz and 1 V at 2500.2157 Hz", p[0], p[1])
	}
}

// The definition, term by term, is the oracle: all lengths up to 40 and some
// awkward ones, padded and not.
func TestSpectrumAgainstDirectSum(t *testing.T) {
	lengths := []int{63, 64, 65, 97, 128}
	for n := 4; n <= 40; n++ {
		lengths = append(lengths, n)
	}
	for _, n := range lengths {
		for _, nfft := range []int{n, n + 1, 2 * n, 3*n + 1} {
			x := whiteNoise(n, 1, uint64(n))
			for _, w := range []Window{Rectangle, Hann, Welch, HFT95} {
				s, err := NewSpectrum(x, 100, SpectrumOptions{Window: w, FFTLen: nfft})
				if err != nil {
					t.Fatal(err)
				}
				weights := w.Weights(n)
				sum, squares := 0.0, 0.0
				for _, v := range weights {
					sum += v
					squares += v * v
				}
				if s.Len() != nfft/2+1 || s.N != n || s.NFFT != nfft || s.Blocks != 1 || s.DF != 100/float64(nfft) {
					t.Fatalf("spectrum of %d samples, transform %d: %+v", n, nfft, s)
				}
				tol := 1e-12 * float64(n)
				for k := range s.Len() {
					var X complex128
					for j, v := range weights {
						X += cmplx.Rect(v*x[j], -2*math.Pi*float64(j*k%nfft)/float64(nfft))
					}
					sides := 2.0
					if k == 0 || 2*k == nfft {
						sides = 1
					}
					if want := sides * cmplx.Abs(X) / sum; math.Abs(s.Amplitude(k)-want) > tol {
						t.Fatalf("%s, n = %d of %d: Amplitude(%d) = %v, want %v", w, n, nfft, k, s.Amplitude(k), want)
					}
					if want := sides * real(X*cmplx.Conj(X)) / (100 * squares); math.Abs(s.Density(k)-want) > tol {
						t.Fatalf("%s, n = %d of %d: Density(%d) = %v, want %v", w, n, nfft, k, s.Density(k), want)
					}
					if got, ok := s.Coefficient(k); !ok || cmplx.Abs(got-X) > tol {
						t.Fatalf("%s, n = %d of %d: Coefficient(%d) = %v, %v, want %v", w, n, nfft, k, got, ok, X)
					}
				}
			}
		}
	}
}

// A sine of full scale at the centre of a bin reads amplitude 1, RMS 1/√2 and 0
// dB with every window; the mean reads itself.
func TestSpectrumScale(t *testing.T) {
	const n, k = 400, 60
	for _, w := range Windows() {
		x := cosine(n, 1, k, 0.7)
		for j := range x {
			x[j] += 0.25
		}
		s, err := NewSpectrum(x, 8000, SpectrumOptions{Window: w})
		if err != nil {
			t.Fatal(err)
		}
		tol := 1e-9                      // the sums of ten cosines cancel to about 1e-12
		if w == Bartlett || w == Welch { // which have no nulls at the bins: mean and tone leak into each other
			tol = 2e-4
		}
		if math.Abs(s.Amplitude(k)-1) > tol || math.Abs(s.RMS(k)-math.Sqrt(0.5)) > tol || math.Abs(s.Power(k)-0.5) > tol || math.Abs(s.DB(k)) > 10*tol {
			t.Errorf("%s: a full-scale sine reads amplitude %v, RMS %v, power %v, %v dB", w, s.Amplitude(k), s.RMS(k), s.Power(k), s.DB(k))
		}
		if math.Abs(s.Amplitude(0)-0.25) > 2*tol {
			t.Errorf("%s: a mean of 0.25 reads %v", w, s.Amplitude(0))
		}
		if math.Abs(math.Remainder(s.Phase(k)-0.7, 2*math.Pi)) > 1e-3 {
			t.Errorf("%s: phase %v, want 0.7", w, s.Phase(k))
		}
	}
	// At half the sample rate positive and negative frequency are one bin.
	x := make([]float64, 64)
	for j := range x {
		x[j] = float64(1 - 2*(j%2))
	}
	s, _ := NewSpectrum(x, 2, SpectrumOptions{Window: Rectangle})
	if k := s.Len() - 1; math.Abs(s.Amplitude(k)-1) > 1e-12 || math.Abs(s.RMS(k)-1) > 1e-12 || s.Freq(k) != 1 {
		t.Errorf("1, -1, 1, … reads amplitude %v, RMS %v at %v", s.Amplitude(k), s.RMS(k), s.Freq(k))
	}
}

// Parseval's theorem: Σx² = (1/n) Σ|X|².
func TestParseval(t *testing.T) {
	for n := 4; n <= 200; n++ {
		x := whiteNoise(n, 3, uint64(n))
		want := 0.0
		for _, v := range x {
			want += v * v / float64(n)
		}
		s, err := NewSpectrum(x, 44100, SpectrumOptions{Window: Rectangle})
		if err != nil {
			t.Fatal(err)
		}
		if got := s.MeanSquare(); math.Abs(got/want-1) > 1e-12 {
			t.Errorf("n = %d: MeanSquare = %v, mean of squares %v", n, got, want)
		}
		// Zero padding spreads the same energy over more bins.
		p, err := NewSpectrum(x, 44100, SpectrumOptions{Window: Rectangle, FFTLen: 2*n + 1})
		if err != nil {
			t.Fatal(err)
		}
		if got := p.MeanSquare(); math.Abs(got/want-1) > 1e-12 {
			t.Errorf("n = %d padded: MeanSquare = %v, mean of squares %v", n, got, want)
		}
	}
}

// Scaling, shifting in time and doubling the rate do what they must.
func TestSpectrumProperties(t *testing.T) {
	x := whiteNoise(256, 1, 7)
	s, _ := NewSpectrum(x, 1000, SpectrumOptions{})
	scaled := make([]float64, len(x))
	shifted := make([]float64, len(x))
	const shift = 31
	for j := range x {
		scaled[j] = -2.5 * x[j]
		shifted[j] = x[(j+shift)%len(x)]
	}
	a, _ := NewSpectrum(scaled, 1000, SpectrumOptions{})
	faster, _ := NewSpectrum(x, 2000, SpectrumOptions{})
	r, _ := NewSpectrum(x, 1000, SpectrumOptions{Window: Rectangle})
	m, _ := NewSpectrum(shifted, 1000, SpectrumOptions{Window: Rectangle})
	for k := range s.Len() {
		if math.Abs(a.Amplitude(k)-2.5*s.Amplitude(k)) > 1e-12 {
			t.Errorf("bin %d: scaled by -2.5, amplitude %v from %v", k, a.Amplitude(k), s.Amplitude(k))
		}
		if faster.Amplitude(k) != s.Amplitude(k) || faster.Freq(k) != 2*s.Freq(k) || math.Abs(2*faster.Density(k)-s.Density(k)) > 1e-15 {
			t.Errorf("bin %d: at twice the rate amplitude %v, frequency %v, density %v", k, faster.Amplitude(k), faster.Freq(k), faster.Density(k))
		}
		turn := 2 * math.Pi * shift * float64(k) / 256
		if math.Abs(m.Amplitude(k)-r.Amplitude(k)) > 1e-12 || math.Abs(math.Remainder(m.Phase(k)-r.Phase(k)-turn, 2*math.Pi)) > 1e-9 && k != 0 && k != 128 {
			t.Errorf("bin %d: moved by %d samples, amplitude %v from %v, phase %v from %v", k, shift, m.Amplitude(k), r.Amplitude(k), m.Phase(k), r.Phase(k))
		}
	}
}

// White noise of standard deviation 1 has the density 2/fs whatever the window,
// and averaging b independent blocks makes its relative scatter 1/√b.
func TestNoiseDensity(t *testing.T) {
	const fs = 8000.0
	x := whiteNoise(400*512, 1, 3)
	for _, w := range []Window{Rectangle, Hann, BlackmanHarris, HFT95} {
		s, err := NewSpectrum(x, fs, SpectrumOptions{Window: w, Len: 512, Overlap: -1})
		if err != nil {
			t.Fatal(err)
		}
		if s.Blocks != 400 {
			t.Fatalf("%d blocks, want 400", s.Blocks)
		}
		var mean, squares float64
		n := 0.0
		for k := 8; k < s.Len()-8; k++ {
			d := s.Density(k) * fs / 2
			mean += d
			squares += d * d
			n++
		}
		mean /= n
		sd := math.Sqrt(squares/n - mean*mean)
		// 240 bins, correlated over at most 4: the mean scatters by 0.05·√(4/240).
		if math.Abs(mean-1) > 4*0.05*math.Sqrt(4.0/240) {
			t.Errorf("%s: mean density %.4f of 2/fs, want 1", w, mean)
		}
		if math.Abs(sd*math.Sqrt(400)-1) > 0.25 {
			t.Errorf("%s: scatter %.4f, want 1/√400", w, sd)
		}
	}
}

func TestSpectrumOverlapAndMean(t *testing.T) {
	x := whiteNoise(1000, 1, 5)
	for _, c := range []struct {
		opt    SpectrumOptions
		blocks int
	}{
		{SpectrumOptions{Len: 100}, 19},
		{SpectrumOptions{Len: 100, Overlap: -1}, 10},
		{SpectrumOptions{Len: 100, Overlap: 0.75}, 37},
		{SpectrumOptions{Len: 100, Window: Rectangle}, 10},
		{SpectrumOptions{Len: 300, Overlap: -1}, 3},
		{SpectrumOptions{Len: 1000}, 1},
		{SpectrumOptions{Len: 100, Overlap: 0.9999}, 901},
	} {
		s, err := NewSpectrum(x, 1, c.opt)
		if err != nil {
			t.Fatal(err)
		}
		if s.Blocks != c.blocks {
			t.Errorf("%+v: %d blocks, want %d", c.opt, s.Blocks, c.blocks)
		}
		if _, ok := s.Coefficient(3); ok != (s.Blocks == 1) || math.IsNaN(s.Phase(3)) == ok {
			t.Errorf("%+v: a phase with %d blocks: %v", c.opt, s.Blocks, ok)
		}
	}
	for j := range x {
		x[j] += 5
	}
	s, _ := NewSpectrum(x, 1, SpectrumOptions{RemoveMean: true, Window: Rectangle})
	if s.Amplitude(0) > 1e-12 {
		t.Errorf("the mean reads %v after it was removed", s.Amplitude(0))
	}
}

func TestNewSpectrumRefuses(t *testing.T) {
	x := whiteNoise(100, 1, 1)
	bad := append(whiteNoise(10, 1, 1), math.NaN())
	for _, c := range []struct {
		name string
		x    []float64
		fs   float64
		opt  SpectrumOptions
		kind error
	}{
		{"rate 0", x, 0, SpectrumOptions{}, ErrOption},
		{"rate NaN", x, math.NaN(), SpectrumOptions{}, ErrOption},
		{"nothing", nil, 1, SpectrumOptions{}, ErrTooShort},
		{"three samples", x[:3], 1, SpectrumOptions{}, ErrTooShort},
		{"block too long", x, 1, SpectrumOptions{Len: 101}, ErrTooShort},
		{"block of two", x, 1, SpectrumOptions{Len: 2}, ErrOption},
		{"block negative", x, 1, SpectrumOptions{Len: -5}, ErrOption},
		{"transform too short", x, 1, SpectrumOptions{FFTLen: 99}, ErrOption},
		{"transform too long", x, 1, SpectrumOptions{FFTLen: 1 << 40}, ErrOption},
		{"full overlap", x, 1, SpectrumOptions{Overlap: 1}, ErrOption},
		{"overlap NaN", x, 1, SpectrumOptions{Overlap: math.NaN()}, ErrOption},
		{"NaN", bad, 1, SpectrumOptions{}, ErrNotFinite},
	} {
		if s, err := NewSpectrum(c.x, c.fs, c.opt); !errors.Is(err, c.kind) {
			t.Errorf("%s: %v, %v, want %v", c.name, s, err, c.kind)
		}
	}
	rec, _ := NewRecording("x", 100, x)
	for _, ch := range []int{-2, 2} {
		if _, err := rec.Spectrum(SpectrumOptions{Channel: ch}); !errors.Is(err, ErrOption) {
			t.Errorf("channel %d gives %v", ch, err)
		}
		if _, err := rec.Spectrogram(SpectrogramOptions{Channel: ch}); !errors.Is(err, ErrOption) {
			t.Errorf("spectrogram of channel %d gives %v", ch, err)
		}
	}
}

// A tone in antiphase between two channels is in every channel, and not in the
// mean of both.
func TestRecordingSpectrumChannels(t *testing.T) {
	a := cosine(800, 0.5, 80, 0)
	b := cosine(800, 0.5, 80, math.Pi)
	rec, err := NewRecording("x", 8000, a, b)
	if err != nil {
		t.Fatal(err)
	}
	for channel, want := range map[int]float64{0: 0.5, 1: 0.5, 2: 0.5, MixDown: 0} {
		s, err := rec.Spectrum(SpectrumOptions{Channel: channel})
		if err != nil {
			t.Fatal(err)
		}
		if got := s.Amplitude(s.Bin(800)); math.Abs(got-want) > 1e-12 {
			t.Errorf("channel %d reads %v at 800 Hz, want %v", channel, got, want)
		}
		if s.Blocks != 1 {
			t.Errorf("channel %d: %d blocks, want 1", channel, s.Blocks)
		}
	}
}

func TestSpectrumBin(t *testing.T) {
	s, _ := NewSpectrum(make([]float64, 100), 1000, SpectrumOptions{})
	for f, want := range map[Hertz]int{0: 0, 10: 1, 14.9: 1, 15.1: 2, 500: 50, 9999: 50, -3: 0, Hertz(math.NaN()): 0, Hertz(math.Inf(1)): 50} {
		if got := s.Bin(f); got != want {
			t.Errorf("Bin(%v) = %d, want %d", f, got, want)
		}
	}
	if !math.IsInf(s.DB(5), -1) {
		t.Errorf("silence reads %v dB", s.DB(5))
	}
	if p := s.Peaks(5); len(p) != 0 {
		t.Errorf("silence has peaks %v", p)
	}
}
