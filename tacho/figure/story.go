package figure

import (
	"context"
	"fmt"
	"math"
	"path/filepath"

	"rotorhum/tacho"
)

// Story draws the pictures that show a reader why a measurement of rec says
// what it says, in the order of the argument: the waveform, the spectrogram
// with the track over it, the lines around the top speed and the speed against
// time. Without a reading only the first two are drawn, and of digital silence
// only the first.
//
// What the pictures need is taken from rec with blocks that suit the pulse
// rate, and of a long recording no more of them than the picture has columns
// for. It returns an error if m holds no track, and those of the other
// constructors.
func Story(rec *tacho.Recording, m *tacho.Measurement) ([]*Picture, error) {
	return StoryWith(rec, m, tacho.Watch{})
}

// StoryWith is [Story] for a long recording: it can be stopped, and show its
// progress picture by picture.
func StoryWith(rec *tacho.Recording, m *tacho.Measurement, w tacho.Watch) ([]*Picture, error) {
	told := func(done float64) {
		if w.Progress != nil {
			w.Progress(done)
		}
	}
	defer told(1)
	view := View{Context: w.Context}
	if m == nil || m.Track == nil {
		return nil, fmt.Errorf("figure: the measurement holds no track; make it with tacho.Measure")
	}
	wave, err := Waveform(rec, view)
	if err != nil {
		return nil, err
	}
	pictures := []*Picture{wave}
	if math.IsInf(rec.PeakDBFS, -1) {
		return pictures, nil
	}
	told(0.25)
	lowest, highest := tones(m.Track)
	blocks := storyBlocks(rec, lowest, highest)
	blocks.Context = w.Context
	sg, err := rec.Spectrogram(blocks)
	if err != nil {
		return nil, fmt.Errorf("figure: %w", err)
	}
	over, err := Spectrogram(sg, m.Track, view)
	if err != nil {
		return nil, err
	}
	pictures = append(pictures, over)
	told(0.5)
	peak, err := m.Track.Peak()
	if err != nil {
		return pictures, nil
	}
	lines, err := topLines(rec, m, peak, w.Context)
	if err != nil {
		return nil, err
	}
	told(0.75)
	var marked *tacho.PeakSpeed
	if m.Peak != nil {
		marked = peak
	}
	course, err := Speed(m.Track, m.Rotor, marked)
	if err != nil {
		return nil, err
	}
	return append(pictures, lines, course), nil
}

// tones returns the lowest and the highest pulse rate of a track in hertz, 0
// without points.
func tones(t *tacho.Track) (lowest, highest float64) {
	for i, p := range t.Points {
		f := float64(p.Tone)
		if i == 0 || f < lowest {
			lowest = f
		}
		highest = math.Max(highest, f)
	}
	return lowest, highest
}

// storyColumns is how many blocks a spectrogram is made of at most.
const storyColumns = 2000

// storyBlocks chooses blocks long enough to part the lines of the lowest pulse
// rate, from 50 to 200 ms, and a band that holds the lines of the highest.
func storyBlocks(rec *tacho.Recording, lowest, highest float64) tacho.SpectrogramOptions {
	seconds := 0.05
	if lowest > 0 {
		seconds = math.Min(math.Max(5/lowest, 0.05), 0.2)
	}
	n := 1 << int(math.Ceil(math.Log2(seconds*rec.Rate)))
	for n > 16 && n > rec.Frames {
		n /= 2
	}
	opt := tacho.SpectrogramOptions{Len: n, Hop: max(n/8, rec.Frames/storyColumns, 1)}
	if rec.Frames < 2*n {
		opt.Hop = max(1, n/16)
	}
	if highest > 0 {
		opt.Band = tacho.Range{Hi: tacho.Hertz(math.Min(math.Max(4.7*highest, leastBand+50), rec.Rate/2))}
	} else {
		opt.Band = tacho.Range{Hi: tacho.Hertz(math.Min(4000, rec.Rate/2))}
	}
	return opt
}

// topLines draws the spectrum around the top speed, or of all blocks of a
// steady recording, with the family marked.
func topLines(rec *tacho.Recording, m *tacho.Measurement, peak *tacho.PeakSpeed, ctx context.Context) (*Picture, error) {
	family := m.Track.Top
	if m.Track.Steady != nil {
		family = m.Track.Steady
	}
	view := View{Title: fmt.Sprintf("Spectrum of %s", filepath.Base(rec.Name)), Context: ctx}
	part := rec
	if m.Peak != nil {
		// Ten periods on either side: lines well parted, speed hardly changed.
		reach := math.Min(math.Max(10/peak.Tone.X, 0.15), 0.5)
		from, to := math.Max(0, peak.T-reach), math.Min(rec.Seconds(), peak.T+reach)
		var err error
		if part, err = rec.Slice(from, to); err != nil {
			return nil, fmt.Errorf("figure: %w", err)
		}
		view.Title = fmt.Sprintf("Spectrum around the peak, %.2f to %.2f s", from, to)
	}
	n := min(part.Frames, 1<<int(math.Round(math.Log2(math.Min(40/peak.Tone.X+0.2, 1.5)*rec.Rate))))
	spec, err := part.Spectrum(tacho.SpectrumOptions{Len: n, FFTLen: 4 * n, Context: ctx})
	if err != nil {
		return nil, fmt.Errorf("figure: %w", err)
	}
	return Spectrum(spec, family, view)
}
