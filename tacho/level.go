package tacho

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"sync"
	"sync/atomic"
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

func (t *flatTop) join(behind flatTop) {
	switch {
	case behind.extreme > t.extreme:
		*t = behind
	case behind.extreme == t.extreme:
		t.all += behind.all
		t.inRuns += behind.inRuns
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

// levelMeter measures the level of one channel, sample by sample.
type levelMeter struct {
	sum, squares float64
	high, low    flatTop // low of the samples upside down
}

func newLevelMeters(channels int) []levelMeter {
	meters := make([]levelMeter, channels)
	for ch := range meters {
		meters[ch].high.extreme, meters[ch].low.extreme = math.Inf(-1), math.Inf(-1)
	}
	return meters
}

// add measures every step-th sample of x.
func (m *levelMeter) add(x []float64, step int) {
	for j := 0; j < len(x); j += step {
		v := x[j]
		m.sum += v
		m.squares += v * v
		if v >= m.high.extreme || m.high.run > 0 {
			m.high.add(v)
		}
		if -v >= m.low.extreme || m.low.run > 0 {
			m.low.add(-v)
		}
	}
}

// join adds what was measured of the samples behind those of m. A run across
// the seam counts as two.
func (m *levelMeter) join(behind levelMeter) {
	m.sum += behind.sum
	m.squares += behind.squares
	m.high.join(behind.high)
	m.low.join(behind.low)
}

// level returns the level of n samples with the given quantiser step, and how
// many of them are clipped.
func (m *levelMeter) level(n int, quantum float64) (l Level, clipped int) {
	l = Level{
		Peak: max(m.high.extreme, m.low.extreme),
		RMS:  math.Sqrt(m.squares / float64(n)),
		Mean: m.sum / float64(n),
	}
	if m.high.extreme == -m.low.extreme {
		l.Mean = m.high.extreme // all samples are the same: no rounding error
		return l, 0
	}
	clipped = m.high.clipped(n, quantum) + m.low.clipped(n, quantum)
	l.Clipped = float64(clipped) / float64(n)
	return l, clipped
}

// levelFrames is how many frames one worker measures at a time. It does not
// depend on the number of workers, so that the results do not either.
const levelFrames = 1 << 18

// measureLevels reads every sample once, fills in levels, ClippedFraction and
// PeakDBFS, warns, and refuses samples that no sound can have. It ends early
// with the context, and tells progress, if not nil, the share done.
func (r *Recording) measureLevels(ctx context.Context, progress func(float64)) error {
	pieces := (r.Frames + levelFrames - 1) / levelFrames
	meters := make([][]levelMeter, pieces)
	errs := make([]error, pieces)
	var next, done atomic.Int64
	var telling sync.Mutex
	var workers sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), pieces) {
		workers.Go(func() {
			for i := int(next.Add(1)) - 1; i < pieces; i = int(next.Add(1)) - 1 {
				if errs[i] = ctx.Err(); errs[i] != nil {
					return
				}
				meters[i], errs[i] = r.measurePiece(i * levelFrames)
				if progress != nil {
					telling.Lock()
					progress(float64(done.Add(1)) / float64(pieces))
					telling.Unlock()
				}
			}
		})
	}
	workers.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	for _, behind := range meters[1:] {
		for ch := range behind {
			meters[0][ch].join(behind[ch])
		}
	}
	r.levels = make([]Level, r.Channels)
	total, peak := 0, 0.0
	for ch := range r.levels {
		l, clipped := meters[0][ch].level(r.Frames, r.src.quantum())
		r.levels[ch] = l
		total += clipped
		peak = max(peak, l.Peak)
	}
	r.ClippedFraction = float64(total) / (float64(r.Frames) * float64(r.Channels))
	r.PeakDBFS = decibels(peak)
	r.warnOfLevels()
	return nil
}

// measurePiece measures all channels of the piece that begins at frame start.
func (r *Recording) measurePiece(start int) ([]levelMeter, error) {
	meters := newLevelMeters(r.Channels)
	at := start
	var bad error
	err := r.src.walk(r.first+start, min(levelFrames, r.Frames-start), func(frames []float64) {
		for i, x := range frames {
			if !(math.Abs(x) <= maxSample) && bad == nil {
				bad = r.badSample(at+i/r.Channels, i%r.Channels, x)
			}
		}
		for ch := range meters {
			meters[ch].add(frames[ch:], r.Channels)
		}
		at += len(frames) / r.Channels
	})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", r.Name, err)
	}
	return meters, bad
}

func (r *Recording) badSample(at, ch int, x float64) error {
	chunk, offset := r.src.where(ch, r.first+at)
	return &FileError{File: r.Name, Chunk: chunk, Offset: offset, Kind: ErrNotFinite,
		Problem: fmt.Sprintf("sample %d of channel %d (%s s from the start) is %v", at, ch+1, formatSig(float64(at)/r.Rate, 6), x),
		Advice:  "export the recording again, as 16-bit PCM WAV if you can"}
}

// warnShare is the share of clipped samples from which on there is a warning.
const warnShare = 0.001

func (r *Recording) warnOfLevels() {
	for ch, l := range r.levels {
		switch {
		case l.Silent():
			r.Warnings = append(r.Warnings, fmt.Sprintf("channel %d is silent: every sample is %g", ch+1, l.Mean))
		case l.Clipped > warnShare:
			r.Warnings = append(r.Warnings, fmt.Sprintf(
				"channel %d: %s %% of the samples stand in flat tops at %s dBFS: it was clipped; record further away or with less gain",
				ch+1, formatSig(100*l.Clipped, 2), formatDB(l.PeakDBFS())))
		}
	}
}
