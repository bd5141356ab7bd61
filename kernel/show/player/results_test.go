package player_test

import (
	"bytes"
	"context"
	"encoding/base64"
	"errors"
	"image/png"
	"strings"
	"testing"

	"rotorhum/kernel/show/player"
	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// The results of tacho are shown as pictures or tables, and say in words what
// they are.
func TestResultsAreShown(t *testing.T) {
	scene := synth.Scene{Rate: 8000, Seconds: 4, Seed: 1, Noise: []synth.Noise{{SNR: 30}},
		Rotors: []synth.Rotor{{Pulses: 5, Profile: synth.Steady(30), Beat: &synth.Beat{Depth: 0.5, Rate: 2}}}}
	take, err := scene.Make()
	if err != nil {
		t.Fatal(err)
	}
	rec, err := tacho.NewRecording("beating", 8000, take.Samples...)
	if err != nil {
		t.Fatal(err)
	}
	spectrum, err := rec.Spectrum(tacho.SpectrumOptions{Len: 8000})
	if err != nil {
		t.Fatal(err)
	}
	gram, err := rec.Spectrogram(tacho.SpectrogramOptions{})
	if err != nil {
		t.Fatal(err)
	}
	track, err := tacho.Follow(rec, tacho.Options{Pulses: 5, Motion: tacho.Varying})
	if err != nil {
		t.Fatal(err)
	}
	beat, err := tacho.FindBeat(track, tacho.Rotor{Pulses: 5}, tacho.BeatSteady, 1, 4)
	if err != nil {
		t.Fatal(err)
	}
	simulation, err := tacho.MonteCarlo("m²", func(x []float64) float64 { return x[0] * x[0] }, 2000, 1, tacho.Measured(1, 0.1, "m", "ruler"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what, mime string
		value      interface{ String() string }
	}{
		{"spectrum", "image/png", spectrum}, {"spectrogram", "image/png", gram}, {"beat", "image/png", beat},
		{"simulation", "image/png", simulation}, {"take", "text/html", take},
	} {
		b, ok, err := player.Render(t.Context(), c.value)
		if err != nil || !ok {
			t.Errorf("%s: %v, %v", c.what, ok, err)
			continue
		}
		if b.Data["text/plain"] != c.value.String() {
			t.Errorf("%s in words: %v", c.what, b.Data["text/plain"])
		}
		text, _ := b.Data[c.mime].(string)
		if c.mime != "image/png" {
			if len(data.FindAllString(text, -1)) != 2 {
				t.Errorf("%s has no picture and sound: %.200s", c.what, text)
			}
			continue
		}
		raw, _ := base64.StdEncoding.DecodeString(text)
		if _, err := png.Decode(bytes.NewReader(raw)); err != nil || b.Metadata["image/png"] == nil {
			t.Errorf("%s: %v, size %v", c.what, err, b.Metadata["image/png"])
		}
	}
	peaks := spectrum.Peaks(3)
	b, ok, err := player.Render(t.Context(), peaks)
	if err != nil || !ok || strings.Count(b.Data["text/html"].(string), "<tr>") != 1+len(peaks) || !strings.Contains(b.Data["text/plain"].(string), peaks[0].Tone().String()) {
		t.Errorf("peaks: %v, %v: %v", ok, err, b.Data)
	}
	over, cancel := context.WithCancel(t.Context())
	cancel()
	for _, v := range []any{spectrum, gram, rec, take} {
		if b, _, err := player.Render(over, v); !errors.Is(err, context.Canceled) {
			t.Errorf("an interrupted cell shows %T: %v, %v", v, b.Data, err)
		}
	}
	silence, err := tacho.NewSpectrum(make([]float64, 100), 1000, tacho.SpectrumOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if b, ok, err := player.Render(t.Context(), silence); err != nil || !ok || len(b.Data) != 1 || b.Data["text/plain"] != silence.String() {
		t.Errorf("silence is shown as %v, %v, %v", b.Data, ok, err)
	}
}
