package tacho

import (
	"context"
	"fmt"
	"math"

	"rotorhum/tacho/internal/transform"
)

// maxTransform bounds the memory of a transform to about 4 GB.
const maxTransform = 1 << 27

// picked is one channel of a recording, counted from 0, or the mean of all.
type picked int

// pick turns a choice of channel, as in [Options], into what is to be read.
func (r *Recording) pick(channel int) ([]picked, error) {
	switch {
	case channel == MixDown:
		return []picked{MixDown}, nil
	case channel < 0 || channel > r.Channels:
		return nil, optionError("channel %d of %q: give 1 to %d, 0 for all or %d for their mean", channel, r.Name, r.Channels, MixDown)
	case channel > 0:
		return []picked{picked(channel - 1)}, nil
	}
	all := make([]picked, r.Channels)
	for i := range all {
		all[i] = picked(i)
	}
	return all, nil
}

// read fills block with the samples of the channel from frame start on; there
// must be as many. spare is as long and may be overwritten.
func (c picked) read(ctx context.Context, r *Recording, start int, block, spare []float64) error {
	for from, to := range pieces(ctx, len(block)) {
		if c != MixDown {
			if _, err := r.Block(int(c), start+from, block[from:to]); err != nil {
				return err
			}
			continue
		}
		clear(block[from:to])
		for ch := range r.Channels {
			if _, err := r.Block(ch, start+from, spare[from:to]); err != nil {
				return err
			}
			for j, x := range spare[from:to] {
				block[from+j] += x / float64(r.Channels)
			}
		}
	}
	return ended(ctx)
}

// planSpectrum checks the options for n samples and returns a spectrum without
// content and the distance of its blocks.
func planSpectrum(n int, fs float64, opt SpectrumOptions) (s *Spectrum, hop int, err error) {
	length := opt.Len
	if length == 0 {
		length = n
	}
	nfft := opt.FFTLen
	if nfft == 0 {
		nfft = length
	}
	const least = 4
	switch {
	case length < 0 || nfft < 0:
		return nil, 0, optionError("block of %d samples, transform of %d: give positive numbers", opt.Len, opt.FFTLen)
	case n < least:
		return nil, 0, fmt.Errorf("%w: %d samples; a spectrum needs at least %d", ErrTooShort, n, least)
	case length < least:
		return nil, 0, optionError("a block of %d samples: give at least %d", length, least)
	case length > n:
		return nil, 0, fmt.Errorf("%w: %d samples do not fill a block of %d; ask for shorter blocks", ErrTooShort, n, length)
	case nfft < length:
		return nil, 0, optionError("a transform of %d samples does not hold a block of %d", nfft, length)
	case nfft > maxTransform:
		return nil, 0, optionError("a transform of %d samples is more than %d: set Len to average shorter blocks, or cut a slice", nfft, maxTransform)
	case !(opt.Overlap < 1):
		return nil, 0, optionError("overlap %v: it is a share of the block and must be below 1", opt.Overlap)
	}
	overlap := max(opt.Overlap, 0)
	if opt.Overlap == 0 {
		overlap = opt.Window.Overlap()
	}
	hop = max(1, int(math.Round(float64(length)*(1-overlap))))
	return &Spectrum{Fs: fs, N: length, NFFT: nfft, DF: fs / float64(nfft), Window: opt.Window}, hop, nil
}

// blockTransform weighs, transforms and sums up blocks.
type blockTransform struct {
	weights    []float64
	removeMean bool
	plan       *transform.Real
	padded     []float64
	line       []complex128
	power      []float64
	blocks     int
}

func (s *Spectrum) blockTransform(ctx context.Context, removeMean bool) (*blockTransform, error) {
	weights := s.Window.sample(ctx, s.N, s.N)
	plan, err := transform.NewRealWith(ctx, s.NFFT)
	if err != nil {
		return nil, err
	}
	for _, w := range weights {
		s.sum += w
		s.squares += w * w
	}
	return &blockTransform{
		weights: weights, removeMean: removeMean, plan: plan, padded: make([]float64, s.NFFT),
		line: make([]complex128, s.NFFT/2+1), power: make([]float64, s.NFFT/2+1),
	}, nil
}

// clone returns a transform of the same kind for another goroutine.
func (b *blockTransform) clone() *blockTransform {
	return &blockTransform{
		weights: b.weights, removeMean: b.removeMean, plan: b.plan.Clone(),
		padded: make([]float64, len(b.padded)), line: make([]complex128, len(b.line)), power: make([]float64, len(b.power)),
	}
}

// weigh leaves the weighted block, filled up with zeros, in padded.
func (b *blockTransform) weigh(ctx context.Context, block []float64) {
	mean := 0.0
	if b.removeMean {
		for _, x := range block {
			mean += x
		}
		mean /= float64(len(block))
	}
	for from, to := range pieces(ctx, len(b.weights)) {
		block, padded := block[from:to], b.padded[from:to]
		for j, w := range b.weights[from:to] {
			padded[j] = w * (block[j] - mean)
		}
	}
}

func (b *blockTransform) add(ctx context.Context, block []float64) error {
	b.weigh(ctx, block)
	if _, err := b.plan.ForwardWith(ctx, b.line, b.padded); err != nil {
		return err
	}
	for from, to := range pieces(ctx, len(b.line)) {
		power := b.power[from:to]
		for k, X := range b.line[from:to] {
			power[k] += real(X)*real(X) + imag(X)*imag(X)
		}
	}
	b.blocks++
	return ended(ctx)
}

// finish takes over what b has summed up.
func (s *Spectrum) finish(b *blockTransform) {
	s.Blocks, s.power = b.blocks, b.power
	for k := range s.power {
		s.power[k] /= float64(b.blocks)
	}
	if b.blocks == 1 {
		s.coefficients = b.line
	}
}
