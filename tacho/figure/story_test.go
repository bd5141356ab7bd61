package figure

import (
	"strings"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// story measures a recording and draws its story.
func story(t *testing.T, rec *tacho.Recording, rotor tacho.Rotor) (*tacho.Measurement, []*Picture) {
	t.Helper()
	m, err := tacho.Measure(rec, rotor, tacho.Options{})
	if err != nil {
		t.Fatal(err)
	}
	pictures, err := Story(rec, m)
	if err != nil {
		t.Fatal(err)
	}
	return m, pictures
}

// begins checks the first words of the alternative texts, in order.
func begins(t *testing.T, what string, pictures []*Picture, words ...string) {
	t.Helper()
	if len(pictures) != len(words) {
		t.Errorf("%s: %d pictures, want %d", what, len(pictures), len(words))
		return
	}
	for i, p := range pictures {
		if !strings.HasPrefix(p.Alt, words[i]) {
			t.Errorf("%s: picture %d is %q, want one that begins with %q", what, i+1, p.Alt, words[i])
		}
		if _, err := p.Raster(1); err != nil {
			t.Errorf("%s: picture %d: %v", what, i+1, err)
		}
	}
}

func TestStory(t *testing.T) {
	m, pictures := story(t, hum(t, "hum.wav"), tacho.Rotor{Pulses: 4})
	if _, ok := m.Top(); !ok {
		t.Fatalf("no reading of a loud hum: %v", m.Reasons)
	}
	begins(t, "hum", pictures, "Waveform of hum.wav", "Spectrogram from 0", "Spectrum", "Shaft speed")

	noise, err := tacho.NewRecording("noise.wav", 8000, synth.WhiteNoise(synth.Source(2), 0.1, 16000))
	if err != nil {
		t.Fatal(err)
	}
	if m, pictures = story(t, noise, tacho.Rotor{Pulses: 4}); m.Verdict == tacho.VerdictNoReading {
		begins(t, "noise", pictures, "Waveform of noise.wav", "Spectrogram from 0")
	} else {
		t.Errorf("noise has the verdict %q, want no reading", m.Verdict)
	}

	silence, err := tacho.NewRecording("silence.wav", 8000, make([]float64, 16000))
	if err != nil {
		t.Fatal(err)
	}
	_, pictures = story(t, silence, tacho.Rotor{Pulses: 4})
	begins(t, "silence", pictures, "Waveform of silence.wav")

	if _, err := Story(silence, &tacho.Measurement{}); err == nil {
		t.Error("a measurement without a track: no error, want one")
	}
}

// The blocks of a story part the lines of the lowest rate, fit into the
// recording and are never many more than the picture has columns for.
func TestStoryBlocks(t *testing.T) {
	for _, c := range []struct {
		fs              float64
		frames          int
		lowest, highest float64
	}{{44100, 44100 * 20, 30, 90}, {48000, 48000 * 3600, 300, 300}, {8000, 100, 200, 200}, {8000, 16000, 0, 0}, {192000, 192000, 20, 6000}} {
		rec := &tacho.Recording{Rate: c.fs, Frames: c.frames}
		opt := storyBlocks(rec, c.lowest, c.highest)
		if opt.Len > c.frames || opt.Hop < 1 || (c.frames-opt.Len)/opt.Hop+1 > storyColumns+1 {
			t.Errorf("%+v: blocks of %d every %d", c, opt.Len, opt.Hop)
		}
		if float64(opt.Band.Hi) > c.fs/2 || float64(opt.Band.Hi) < c.highest && c.highest < c.fs/2 {
			t.Errorf("%+v: band %v", c, opt.Band)
		}
	}
}
