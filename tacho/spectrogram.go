package tacho

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"sync"
)

// SpectrogramOptions says how a spectrogram is to be taken. The zero value takes
// Hann blocks of about 50 ms with the recommended overlap, of all channels.
type SpectrogramOptions struct {
	// Window weighs each block; the zero value is Hann.
	Window Window
	// Len is the number of samples in a block; 0 stands for the power of two
	// nearest to 50 ms. Long blocks part close tones, short ones close moments.
	Len int
	// Hop is the distance of the blocks in samples; 0 stands for what the window
	// recommends.
	Hop int
	// FFTLen is the length of the transform, at least Len; 0 stands for Len.
	FFTLen int
	// Band keeps only bins between two frequencies; the zero value keeps all.
	Band Range
	// Channel picks the channel as in [SpectrumOptions].
	Channel int
	// Context, if not nil, ends long work early: the error is its own.
	Context context.Context
}

// Spectrogram is the spectrum of a recording block by block: how the strength
// of the sound is spread over frequency, over time. It does not change.
type Spectrogram struct {
	// Times are the middles of the blocks in seconds from the start.
	Times []float64
	// Freqs are the centres of the bins in hertz.
	Freqs []float64
	// Fs is the sample rate in hertz; Len, Hop and FFTLen are in samples.
	Fs               float64
	Len, Hop, FFTLen int
	// Window is what the blocks were weighted with.
	Window Window

	amplitude []float32 // row by row, one row for each time
}

// maxSpectrogram bounds the memory of a spectrogram to 512 MB.
const maxSpectrogram = 1 << 27

// blockSeconds is the length of a block when none is given.
const blockSeconds = 0.05

// Spectrogram returns the spectrogram of the recording: (Frames-Len)/Hop + 1
// blocks, rounded down, none of which reaches beyond the ends.
//
// It returns ErrTooShort if the recording does not fill one block, and ErrOption
// for what the options do not allow, such as a picture of more than 512 MB: then
// give a larger Hop, a Band, or a slice of the recording.
func (r *Recording) Spectrogram(opt SpectrogramOptions) (*Spectrogram, error) {
	channels, err := r.pick(opt.Channel)
	if err != nil {
		return nil, err
	}
	if opt.Len == 0 {
		opt.Len = int(math.Exp2(math.Round(math.Log2(math.Max(blockSeconds*r.Rate, 8)))))
	}
	plan, hop, err := planSpectrum(r.Frames, r.Rate, SpectrumOptions{Window: opt.Window, Len: opt.Len, FFTLen: opt.FFTLen})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", r.Name, err)
	}
	if opt.Hop < 0 {
		return nil, optionError("a hop of %d samples: give a positive number", opt.Hop)
	}
	if opt.Hop > 0 {
		hop = opt.Hop
	}
	g := &Spectrogram{Fs: r.Rate, Len: plan.N, Hop: hop, FFTLen: plan.NFFT, Window: opt.Window}
	first, last, err := plan.band(opt.Band)
	if err != nil {
		return nil, err
	}
	blocks, bins := (r.Frames-g.Len)/hop+1, last-first+1
	if blocks > maxSpectrogram/bins {
		return nil, optionError("a spectrogram of %d times by %d frequencies is too large: give a larger Hop, a Band, or a slice of the recording", blocks, bins)
	}
	for k := first; k <= last; k++ {
		g.Freqs = append(g.Freqs, float64(k)*plan.DF)
	}
	for i := range blocks {
		g.Times = append(g.Times, (float64(i*hop)+float64(g.Len)/2)/r.Rate)
	}
	g.amplitude = make([]float32, blocks*bins)
	b, err := plan.blockTransform(opt.Context, false)
	if err != nil {
		return nil, err
	}
	scale := make([]float64, bins) // from the power of a bin to its amplitude squared
	for j := range scale {
		a := plan.sides(first+j) / plan.sum
		scale[j] = a * a / float64(len(channels))
	}
	workers := min(runtime.GOMAXPROCS(0), (blocks+leastRows-1)/leastRows)
	errs := make([]error, workers)
	var all sync.WaitGroup
	for w := range workers {
		all.Go(func() {
			errs[w] = g.fill(opt.Context, r, channels, b.clone(), scale, first, blocks*w/workers, blocks*(w+1)/workers)
		})
	}
	all.Wait()
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return g, nil
}

// leastRows is how many rows are worth a goroutine.
const leastRows = 16

// readAhead is how many samples of a channel a worker decodes at a time, so
// that overlapping blocks are not decoded again and again.
const readAhead = 1 << 16

// fill computes rows from … to-1 with a transform of its own. The power of a
// bin times its scale is its amplitude squared; the bins begin at first.
func (g *Spectrogram) fill(ctx context.Context, r *Recording, channels []picked, b *blockTransform, scale []float64, first, from, to int) error {
	batch := 1
	if g.Hop < g.Len {
		batch = max(1, (readAhead-g.Len)/g.Hop+1)
	}
	batch = min(batch, to-from)
	span := g.Len + (batch-1)*g.Hop
	sound, spare := make([][]float64, len(channels)), make([]float64, span)
	for c := range sound {
		sound[c] = make([]float64, span)
	}
	sum := make([]float64, len(scale))
	for i := from; i < to; i += batch {
		rows := min(batch, to-i)
		span := g.Len + (rows-1)*g.Hop
		for c, channel := range channels {
			if err := channel.read(ctx, r, i*g.Hop, sound[c][:span], spare[:span]); err != nil {
				return err
			}
		}
		for j := range rows {
			if err := ended(ctx); err != nil {
				return err
			}
			clear(sum)
			for _, x := range sound {
				b.weigh(ctx, x[j*g.Hop:j*g.Hop+g.Len])
				power, err := b.plan.PowerWith(ctx, b.power, b.padded)
				if err != nil {
					return err
				}
				for k, p := range power[first : first+len(sum)] {
					sum[k] += p
				}
			}
			row := g.amplitude[(i+j)*len(scale) : (i+j+1)*len(scale)]
			for k, p := range sum[:len(row)] {
				row[k] = float32(math.Sqrt(p * scale[k]))
			}
		}
	}
	return nil
}

// band returns the first and last bin inside a range of frequencies.
func (s *Spectrum) band(band Range) (first, last int, err error) {
	half := s.NFFT / 2
	if band == (Range{}) {
		return 0, half, nil
	}
	first = int(math.Ceil(max(float64(band.Lo)/s.DF, 0)))
	last = int(math.Floor(min(float64(band.Hi)/s.DF, float64(half))))
	if !(band.Lo < band.Hi) || first > last {
		return 0, 0, optionError("band %v to %v: no bin lies in it; bins are %s Hz apart, from 0 to %s Hz",
			band.Lo, band.Hi, formatSig(s.DF, 4), formatSig(s.Fs/2, 6))
	}
	return first, last, nil
}

// At returns the amplitude at time i and frequency k, as [Spectrum.Amplitude]
// does: a full-scale sine reads 1. With several channels it is the root of
// their mean power.
func (g *Spectrogram) At(i, k int) float64 {
	if k < 0 || k >= len(g.Freqs) {
		panic(fmt.Sprintf("tacho: bin %d of a spectrogram with %d", k, len(g.Freqs)))
	}
	return float64(g.amplitude[i*len(g.Freqs)+k])
}

// DB returns At in decibels relative to a full-scale sine; minus infinity for
// nothing at all.
func (g *Spectrogram) DB(i, k int) float64 { return decibels(g.At(i, k)) }

// Max returns the largest amplitude and where it is: time i, frequency k.
func (g *Spectrogram) Max() (amplitude float64, i, k int) {
	top := 0
	for n, a := range g.amplitude {
		if a > g.amplitude[top] {
			top = n
		}
	}
	return float64(g.amplitude[top]), top / len(g.Freqs), top % len(g.Freqs)
}

// String says in one line what the spectrogram is.
func (g *Spectrogram) String() string {
	return fmt.Sprintf("spectrogram of %d times every %s ms by %d frequencies every %s Hz, %s window of %d samples",
		len(g.Times), formatSig(1000*float64(g.Hop)/g.Fs, 4), len(g.Freqs), formatSig(g.Fs/float64(g.FFTLen), 4), g.Window.Name(), g.Len)
}
