package tacho

import (
	"context"
	"fmt"
	"math"
	"math/cmplx"
)

// SpectrumOptions says how a spectrum is to be taken. The zero value takes all
// samples in one block through a Hann window.
type SpectrumOptions struct {
	// Window weighs each block; the zero value is Hann. Use Rectangle for none.
	Window Window
	// Len is the number of samples in a block; 0 takes all in one block. The
	// powers of several blocks are averaged (Welch's method).
	Len int
	// Overlap is the share of a block that the next one repeats, below 1; 0
	// stands for what the window recommends, a negative number for none.
	Overlap float64
	// FFTLen is the length of the transform, at least Len: the block is filled
	// up with zeros, which draws the same spectrum through more points. 0
	// stands for Len.
	FFTLen int
	// RemoveMean takes the mean of each block away first.
	RemoveMean bool
	// Channel picks the channel of a recording: 0 averages the powers of all
	// channels, 1 is the first, MixDown the mean of all. It is not used for
	// bare samples.
	Channel int
	// Context, if not nil, ends long work early: the error is its own.
	Context context.Context
}

// Spectrum is how the strength of a sound is spread over frequency: one value
// for each bin k = 0 … NFFT/2, at k·DF hertz, one-sided. It does not change.
type Spectrum struct {
	// Fs is the sample rate in hertz.
	Fs float64
	// N is the number of samples in a block, NFFT the length of the transform.
	N, NFFT int
	// DF is the distance of the bins in hertz, Fs/NFFT.
	DF float64
	// Blocks is how many blocks were averaged.
	Blocks int
	// Window is what they were weighted with.
	Window Window

	power        []float64    // mean of |X(k)|², as the transform gives it
	coefficients []complex128 // X(k) when there is one block, else nil
	sum, squares float64      // Σw and Σw²
}

// NewSpectrum returns the spectrum of samples x at rate fs in hertz.
//
// With X(k) = Σ w(j)x(j) exp(-2πi jk/NFFT) the scales are those of Heinzel,
// Rüdiger and Schilling 2002, section 9: see [Spectrum.Amplitude] and
// [Spectrum.Density]. What is left over behind the last whole block is not used.
//
// It returns ErrTooShort if x is shorter than a block or than 4 samples,
// ErrNotFinite if a sample is not finite, and ErrOption for what the options do
// not allow. x is not changed or kept.
func NewSpectrum(x []float64, fs float64, opt SpectrumOptions) (*Spectrum, error) {
	if !(fs > 0) || math.IsInf(fs, 1) {
		return nil, optionError("sample rate %v Hz: it must be positive and finite", fs)
	}
	for from, to := range pieces(opt.Context, len(x)) {
		for j, v := range x[from:to] {
			if !(math.Abs(v) <= maxSample) {
				return nil, fmt.Errorf("%w: sample %d is %v", ErrNotFinite, from+j, v)
			}
		}
	}
	s, hop, err := planSpectrum(len(x), fs, opt)
	if err != nil {
		return nil, err
	}
	if err := ended(opt.Context); err != nil {
		return nil, err
	}
	b, err := s.blockTransform(opt.Context, opt.RemoveMean)
	if err != nil {
		return nil, err
	}
	for start := 0; start+s.N <= len(x); start += hop {
		if err := b.add(opt.Context, x[start:start+s.N]); err != nil {
			return nil, err
		}
	}
	s.finish(b)
	return s, nil
}

// Spectrum returns the spectrum of the recording. It reads block by block, so
// that with Len set a recording of any length will do; see [NewSpectrum] for
// the scales and errors.
func (r *Recording) Spectrum(opt SpectrumOptions) (*Spectrum, error) {
	channels, err := r.pick(opt.Channel)
	if err != nil {
		return nil, err
	}
	s, hop, err := planSpectrum(r.Frames, r.Rate, opt)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", r.Name, err)
	}
	if err := ended(opt.Context); err != nil {
		return nil, err
	}
	b, err := s.blockTransform(opt.Context, opt.RemoveMean)
	if err != nil {
		return nil, err
	}
	block, spare := make([]float64, s.N), make([]float64, s.N)
	for start := 0; start+s.N <= r.Frames; start += hop {
		for _, c := range channels {
			if err := c.read(opt.Context, r, start, block, spare); err != nil {
				return nil, err
			}
			if err := b.add(opt.Context, block); err != nil {
				return nil, err
			}
		}
	}
	s.finish(b)
	if len(channels) > 1 {
		s.Blocks /= len(channels)
	}
	return s, nil
}

// Len returns the number of bins, NFFT/2+1.
func (s *Spectrum) Len() int { return len(s.power) }

// Freq returns the frequency at the centre of bin k.
func (s *Spectrum) Freq(k int) Hertz { return Hertz(float64(k) * s.DF) }

// Bin returns the bin nearest to f, 0 to Len()-1.
func (s *Spectrum) Bin(f Hertz) int {
	k := math.Round(float64(f) / s.DF)
	if !(k > 0) {
		return 0
	}
	return int(min(k, float64(s.Len()-1)))
}

// sides returns 2 where a bin stands for a positive and a negative frequency,
// and 1 at 0 and at half the sample rate, where both are one.
func (s *Spectrum) sides(k int) float64 {
	if k == 0 || 2*k == s.NFFT {
		return 1
	}
	return 2
}

// Amplitude returns the peak amplitude of a sine at the centre of bin k: a sine
// of full scale reads 1, the mean reads itself at bin 0. Between the centres a
// tone reads less by up to the window's Scallop. For averaged blocks it is the
// root of the mean square.
//
//	Amplitude(k) = 2 |X(k)| / Σw, without the 2 at k = 0 and k = NFFT/2
func (s *Spectrum) Amplitude(k int) float64 {
	return s.sides(k) * math.Sqrt(s.power[k]) / math.Abs(s.sum)
}

// RMS returns the root mean square of that sine, Amplitude/√2, or Amplitude
// itself at 0 and at half the sample rate.
func (s *Spectrum) RMS(k int) float64 {
	return s.Amplitude(k) / math.Sqrt(s.sides(k))
}

// Power returns RMS squared: the one-sided power spectrum.
func (s *Spectrum) Power(k int) float64 { return s.RMS(k) * s.RMS(k) }

// Density returns the one-sided power spectral density at bin k in full scale
// squared per hertz. It is right for noise, whatever the window; its sum over
// all bins times DF is the mean square of the weighted samples.
//
//	Density(k) = 2 |X(k)|² / (fs Σw²), without the 2 at k = 0 and k = NFFT/2
func (s *Spectrum) Density(k int) float64 {
	return s.sides(k) * s.power[k] / (s.Fs * s.squares)
}

// DB returns Amplitude in decibels relative to a full-scale sine; minus
// infinity for nothing at all.
func (s *Spectrum) DB(k int) float64 { return decibels(s.Amplitude(k)) }

// Phase returns the phase of the cosine in bin k at the first sample, in
// radians from -π to π. It is NaN when several blocks were averaged, which
// leaves no phase.
func (s *Spectrum) Phase(k int) float64 {
	if s.coefficients == nil {
		return math.NaN()
	}
	return cmplx.Phase(s.coefficients[k])
}

// Coefficient returns X(k), unscaled, and whether there is one: there is none
// when several blocks were averaged.
func (s *Spectrum) Coefficient(k int) (X complex128, ok bool) {
	if s.coefficients == nil {
		return 0, false
	}
	return s.coefficients[k], true
}

// MeanSquare returns the sum of Density over all bins, times DF: with a
// rectangular window and no padding exactly the mean of the squared samples
// (Parseval's theorem).
func (s *Spectrum) MeanSquare() float64 {
	var sum float64
	for k := range s.power {
		sum += s.Density(k)
	}
	return sum * s.DF
}

// Resolution returns the width in hertz of the line that a single tone draws,
// from half power to half power: two tones closer than that are one hump. Zero
// padding does not change it.
func (s *Spectrum) Resolution() Hertz {
	return Hertz(s.Window.HalfPowerWidth(min(s.N, figureLen)) * s.Fs / float64(s.N))
}

// figureLen is a block length at which figures of merit in bins have settled to
// better than 1e-5.
const figureLen = 1024

// Freqs returns the centre frequencies of all bins in hertz.
func (s *Spectrum) Freqs() []float64 {
	f := make([]float64, s.Len())
	for k := range f {
		f[k] = float64(k) * s.DF
	}
	return f
}

// Amplitudes returns Amplitude of all bins.
func (s *Spectrum) Amplitudes() []float64 {
	a := make([]float64, s.Len())
	for k := range a {
		a[k] = s.Amplitude(k)
	}
	return a
}

// String says in one line what the spectrum is.
func (s *Spectrum) String() string {
	return fmt.Sprintf("spectrum of %d × %d samples at %s Hz, %s window: %d bins of %s Hz, lines %s Hz wide",
		s.Blocks, s.N, formatSig(s.Fs, 8), s.Window.Name(), s.Len(), formatSig(s.DF, 5), formatSig(float64(s.Resolution()), 3))
}
