package tacho

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"math"
)

// Recording is a sound: samples at a regular rate in one or more channels,
// with what is known of where they came from. Full scale is 1.
//
// The samples stay in the form in which they were found (the bytes of the
// file, in memory when small and on disk when large) and are decoded when asked
// for, so that an hour of sound costs no more memory than a minute. A Recording
// does not change and may be used by several goroutines at once.
type Recording struct {
	// Name is the file or whatever else the recording was called.
	Name string
	// SHA256 is the hash of the file in hexadecimal. For a recording made from
	// samples it is the hash of the rate and the interleaved samples as
	// little-endian 64-bit floating-point numbers.
	SHA256 string
	// Codec is how the sound was stored, such as "WAV" or "aac through ffmpeg";
	// empty for a recording made from samples.
	Codec string
	// Rate is fs, the sample rate in hertz.
	Rate float64
	// Channels and Frames are the number of channels and the number of samples
	// in each. A frame is one sample of every channel.
	Channels, Frames int
	// Start is where this recording begins in the file it was cut from, in
	// seconds; 0 unless it came from Slice.
	Start float64
	// ClippedFraction is the share of all samples that stand in flat tops,
	// 0 to 1: see [Level].
	ClippedFraction float64
	// PeakDBFS is the largest sample of any channel in decibels relative to
	// full scale; minus infinity for digital silence.
	PeakDBFS float64
	// Warnings are oddities of the file that did not prevent its reading.
	Warnings []string

	levels []Level
	first  int // frame of src at which the recording begins
	src    source
}

// source decodes samples. Its methods may be called by several goroutines.
type source interface {
	// read decodes len(dst) samples of channel ch from frame start on.
	read(ch, start int, dst []float64) error
	// walk decodes all channels from frame start on and visits them in order,
	// some frames at a time, interleaved; visit must not keep the slice.
	walk(start, frames int, visit func(frames []float64)) error
	// quantum is the step between neighbouring sample values, 0 if unknown.
	quantum() float64
	// where is the place of a sample in the file, for messages; offset is
	// negative if there is none.
	where(ch, frame int) (chunk string, offset int64)
}

// maxSample bounds the magnitude of a sample: beyond it only damage is left,
// and below it sums of squares cannot overflow.
const maxSample = 1e9

// NewRecording makes a recording from samples at rate fs in hertz, one slice
// per channel. The samples are copied.
//
// It returns ErrOption if fs is not positive and finite, if there is no channel
// or if their lengths differ, ErrNoSamples if they are empty, and ErrNotFinite
// if a sample is NaN, infinite or beyond 1e9.
func NewRecording(name string, fs float64, channels ...[]float64) (*Recording, error) {
	if !(fs > 0) || math.IsInf(fs, 1) {
		return nil, optionError("sample rate %v Hz of %q: it must be positive and finite", fs, name)
	}
	if len(channels) == 0 {
		return nil, optionError("%q has no channel: give at least one slice of samples", name)
	}
	src := make(memory, len(channels))
	for i, x := range channels {
		if len(x) != len(channels[0]) {
			return nil, optionError("%q: channel %d has %d samples and channel 1 has %d; make them equally long",
				name, i+1, len(x), len(channels[0]))
		}
		src[i] = append([]float64(nil), x...)
	}
	if len(channels[0]) == 0 {
		return nil, fmt.Errorf("%q: %w", name, ErrNoSamples)
	}
	rec := &Recording{Name: name, Rate: fs, Channels: len(channels), Frames: len(channels[0]), src: src}
	if err := rec.measureLevels(context.Background(), nil); err != nil {
		return nil, err
	}
	rec.SHA256 = src.hash(fs)
	return rec, nil
}

// memory is a source that holds its samples as they were given.
type memory [][]float64

func (m memory) read(ch, start int, dst []float64) error {
	copy(dst, m[ch][start:])
	return nil
}

func (m memory) walk(start, frames int, visit func(frames []float64)) error {
	const atOnce = 1024
	block := make([]float64, 0, atOnce*len(m))
	for j := start; j < start+frames; j++ {
		for _, x := range m {
			block = append(block, x[j])
		}
		if len(block) == cap(block) {
			visit(block)
			block = block[:0]
		}
	}
	if len(block) > 0 {
		visit(block)
	}
	return nil
}

func (m memory) quantum() float64 { return 0 }

func (m memory) where(int, int) (chunk string, offset int64) { return "", -1 }

func (m memory) hash(fs float64) string {
	h := sha256.New()
	buf := binary.LittleEndian.AppendUint64(nil, math.Float64bits(fs))
	for j := range m[0] {
		for _, x := range m {
			buf = binary.LittleEndian.AppendUint64(buf, math.Float64bits(x[j]))
		}
		if len(buf) >= 1<<15 {
			h.Write(buf)
			buf = buf[:0]
		}
	}
	h.Write(buf)
	return hex.EncodeToString(h.Sum(nil))
}

// Seconds returns the length of the recording in seconds.
func (r *Recording) Seconds() float64 { return float64(r.Frames) / r.Rate }

// Block decodes samples of channel ch, counted from 0, beginning at frame
// start, into dst, and returns how many: fewer than len(dst), without an error,
// only where the recording ends. It is the way to read a long recording in
// bounded memory.
//
// It returns ErrOption for a channel or frame that does not exist, and the
// error of the file system if the file can no longer be read.
func (r *Recording) Block(ch, start int, dst []float64) (n int, err error) {
	if ch < 0 || ch >= r.Channels {
		return 0, optionError("block of channel %d (counted from 0) of %q, which has %d", ch, r.Name, r.Channels)
	}
	if start < 0 {
		return 0, optionError("block of %q from frame %d: frames are counted from 0", r.Name, start)
	}
	if start >= r.Frames {
		return 0, nil
	}
	n = min(len(dst), r.Frames-start)
	if n == 0 {
		return 0, nil
	}
	if err := r.src.read(ch, r.first+start, dst[:n]); err != nil {
		return 0, fmt.Errorf("%s: %w", r.Name, err)
	}
	return n, nil
}

// Channel returns a copy of all samples of channel i, counted from 1 as in
// [Options]; full scale is 1. Use Block for a recording too long for memory.
//
// It panics if there is no channel i, or if the file can no longer be read.
func (r *Recording) Channel(i int) []float64 {
	if i < 1 || i > r.Channels {
		panic(fmt.Sprintf("tacho: channel %d of %q: it has channels 1 to %d", i, r.Name, r.Channels))
	}
	x := make([]float64, r.Frames)
	if _, err := r.Block(i-1, 0, x); err != nil {
		panic("tacho: " + err.Error())
	}
	return x
}

// Mix returns the mean of all channels, sample by sample. A sound that arrives
// in opposite sense in two channels cancels in it; the channels themselves keep it.
//
// It panics if the file can no longer be read.
func (r *Recording) Mix() []float64 {
	mix := make([]float64, 0, r.Frames)
	scale := 1 / float64(r.Channels)
	err := r.src.walk(r.first, r.Frames, func(frames []float64) {
		for ; len(frames) > 0; frames = frames[r.Channels:] {
			sum := 0.0
			for _, x := range frames[:r.Channels] {
				sum += x
			}
			mix = append(mix, scale*sum)
		}
	})
	if err != nil {
		panic(fmt.Sprintf("tacho: %s: %v", r.Name, err))
	}
	return mix
}

// Slice returns the part of the recording between two times in seconds, as a
// recording that begins at time 0 and shares the samples. It keeps Name and
// SHA256 of the whole; Start says where it was cut.
//
// Both ends are rounded to the nearest frame. It returns ErrOption unless
// 0 <= from < to <= Seconds, and ErrNoSamples if the part holds no frame.
func (r *Recording) Slice(from, to float64) (*Recording, error) {
	if !(from >= 0) || !(from < to) || !(to <= r.Seconds()) {
		return nil, optionError("slice of %q from %g s to %g s: give 0 <= from < to <= %g s", r.Name, from, to, r.Seconds())
	}
	lo, hi := int(math.Round(from*r.Rate)), min(int(math.Round(to*r.Rate)), r.Frames)
	if lo >= hi {
		return nil, fmt.Errorf("slice of %q from %g s to %g s: %w at %g Hz", r.Name, from, to, ErrNoSamples, r.Rate)
	}
	s := *r
	s.first, s.Frames = r.first+lo, hi-lo
	s.Start = r.Start + float64(lo)/r.Rate
	s.Warnings = nil
	if err := s.measureLevels(context.Background(), nil); err != nil {
		return nil, err
	}
	return &s, nil
}

// String says in one line what the recording is.
func (r *Recording) String() string {
	chans := "mono"
	if r.Channels > 1 {
		chans = fmt.Sprintf("%d channels", r.Channels)
	}
	return fmt.Sprintf("%s: %s s, %s Hz, %s, peak %s dBFS, clipped %s %%", r.Name,
		formatSig(r.Seconds(), 5), formatSig(r.Rate, 8), chans,
		formatDB(r.PeakDBFS), formatSig(100*r.ClippedFraction, 2))
}
