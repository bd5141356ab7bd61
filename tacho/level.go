package tacho

import (
	"fmt"
	"math"
)

// Level says how loud one channel of a recording is. Full scale is 1.
type Level struct {
	// Peak is the largest magnitude of a sample.
	Peak float64
	// RMS is the root mean square of all samples, the mean included.
	RMS float64
	// Mean is the mean of all samples: the recorder's offset.
	Mean float64
	// Clipped is the share of samples that stand in flat tops, 0 to 1: samples
	// equal to the channel's highest or lowest value, where that value is full
	// scale and comes more than twice, or where it comes in runs of three or
	// more far more often than on the rounded crests of an unclipped sine.
	Clipped float64
}

// PeakDBFS returns Peak in decibels relative to full scale, minus infinity for
// digital silence.
func (l Level) PeakDBFS() float64 { return decibels(l.Peak) }

// RMSDBFS returns RMS in decibels relative to a sine of full scale, whose RMS is
// 1/√2 (the convention of AES17, from memory); minus infinity for silence.
func (l Level) RMSDBFS() float64 { return decibels(l.RMS * math.Sqrt2) }

// Silent reports whether every sample of the channel has the same value.
func (l Level) Silent() bool { return l.Peak == math.Abs(l.Mean) }

// decibels returns 20 log10 of an amplitude ratio.
func decibels(ratio float64) float64 { return 20 * math.Log10(ratio) }

// Levels returns the level of each channel.
func (r *Recording) Levels() []Level { return append([]Level(nil), r.levels...) }

// flatTop counts how often a sequence stands still at its own extreme.
type flatTop struct {
	extreme float64
	all     int // samples equal to extreme
	run     int // length of the run that is going on
	inRuns  int // samples equal to extreme in runs of at least three
}

func (t *flatTop) add(x float64) {
	switch {
	case x < t.extreme:
		t.run = 0
		return
	case x > t.extreme:
		*t = flatTop{extreme: x}
	}
	t.all++
	t.run++
	if t.run == 3 {
		t.inRuns += 3
	} else if t.run > 3 {
		t.inRuns++
	}
}

// clipped returns how many of n samples count as clipped, given the step of the
// quantiser, 0 if unknown.
func (t *flatTop) clipped(n int, quantum float64) int {
	if t.extreme <= 0 {
		return 0
	}
	if t.extreme >= 1-1.5*quantum-1e-6 {
		if t.all > 2 {
			return t.all
		}
		return 0
	}
	// A sine of amplitude A stays within one step q of its crest for the share
	// sqrt(2q/A)/π of the time (A cos θ > A - q, small θ).
	natural := math.Sqrt(2*quantum/t.extreme) / math.Pi
	if float64(t.inRuns) > (2*natural+0.002)*float64(n) {
		return t.inRuns
	}
	return 0
}

// levelBlock is how many samples are decoded at once to measure levels.
const levelBlock = 1 << 15

// measureLevels reads every sample once, fills in levels, ClippedFraction and
// PeakDBFS, warns, and refuses samples that no sound can have.
func (r *Recording) measureLevels() error {
	r.levels = make([]Level, r.Channels)
	tops := make([][2]flatTop, r.Channels)
	for ch := range tops {
		tops[ch] = [2]flatTop{{extreme: math.Inf(-1)}, {extreme: math.Inf(-1)}}
	}
	sums := make([][2]float64, r.Channels)
	block := make([]float64, min(levelBlock, r.Frames))
	for start := 0; start < r.Frames; start += len(block) {
		for ch := range tops {
			n, err := r.Block(ch, start, block)
			if err != nil {
				return err
			}
			var sum, squares float64
			for j, x := range block[:n] {
				if !(math.Abs(x) <= maxSample) {
					return &FileError{File: r.Name, Offset: -1, Kind: ErrNotFinite,
						Problem: fmt.Sprintf("sample %d of channel %d (%g s from the start) is %v", start+j, ch+1, float64(start+j)/r.Rate, x),
						Advice:  "export the recording again, as 16-bit PCM WAV if you can"}
				}
				sum += x
				squares += x * x
				tops[ch][0].add(x)
				tops[ch][1].add(-x)
			}
			sums[ch][0] += sum
			sums[ch][1] += squares
		}
	}
	r.summariseLevels(tops, sums)
	return nil
}

func (r *Recording) summariseLevels(tops [][2]flatTop, sums [][2]float64) {
	var clipped int
	var peak float64
	for ch := range tops {
		hi, lo := &tops[ch][0], &tops[ch][1]
		l := &r.levels[ch]
		l.Peak = max(hi.extreme, lo.extreme)
		l.Mean = sums[ch][0] / float64(r.Frames)
		l.RMS = math.Sqrt(sums[ch][1] / float64(r.Frames))
		peak = max(peak, l.Peak)
		if hi.extreme == -lo.extreme {
			l.Mean = hi.extreme // every sample is the same; no rounding error
			r.Warnings = append(r.Warnings, fmt.Sprintf("channel %d is silent: every sample is %g", ch+1, hi.extreme))
			continue
		}
		q := r.src.quantum()
		n := hi.clipped(r.Frames, q) + lo.clipped(r.Frames, q)
		l.Clipped = float64(n) / float64(r.Frames)
		clipped += n
		if l.Clipped > 0.001 {
			r.Warnings = append(r.Warnings, fmt.Sprintf(
				"channel %d: %s %% of the samples stand in flat tops at %s dBFS: it was clipped; record further away or with less gain",
				ch+1, formatSig(100*l.Clipped, 2), formatSig(decibels(l.Peak), 2)))
		}
	}
	r.ClippedFraction = float64(clipped) / (float64(r.Frames) * float64(r.Channels))
	r.PeakDBFS = decibels(peak)
}
