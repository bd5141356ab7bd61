package tacho

import (
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
func (c picked) read(r *Recording, start int, block, spare []float64) error {
	if c != MixDown {
		_, err := r.Block(int(c), start, block)
		return err
	}
	clear(block)
	for ch := range r.Channels {
		if _, err := r.Block(ch, start, spare); err != nil {
			return err
		}
		for j, x := range spare {
			block[j] += x / float64(r.Channels)
		}
	}
	return nil
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

func (s *Spectrum) blockTransform(removeMean bool) *blockTransform {
	b := &blockTransform{
		weights: s.Window.Weights(s.N), removeMean: removeMean,
		plan: transform.NewReal(s.NFFT), padded: make([]float64, s.NFFT),
		line: make([]complex128, s.NFFT/2+1), power: make([]float64, s.NFFT/2+1),
	}
	for _, w := range b.weights {
		s.sum += w
		s.squares += w * w
	}
	return b
}

// clone returns a transform of the same kind for another goroutine.
func (b *blockTransform) clone() *blockTransform {
	return &blockTransform{
		weights: b.weights, removeMean: b.removeMean, plan: b.plan.Clone(),
		padded: make([]float64, len(b.padded)), line: make([]complex128, len(b.line)), power: make([]float64, len(b.power)),
	}
}

// weigh leaves the weighted block, filled up with zeros, in padded.
func (b *blockTransform) weigh(block []float64) {
	mean := 0.0
	if b.removeMean {
		for _, x := range block {
			mean += x
		}
		mean /= float64(len(block))
	}
	block, padded := block[:len(b.weights)], b.padded[:len(b.weights)]
	for j, w := range b.weights {
		padded[j] = w * (block[j] - mean)
	}
}

func (b *blockTransform) add(block []float64) {
	b.weigh(block)
	for k, X := range b.plan.Forward(b.line, b.padded) {
		b.power[k] += real(X)*real(X) + imag(X)*imag(X)
	}
	b.blocks++
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
