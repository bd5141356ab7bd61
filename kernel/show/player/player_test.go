package player_test

import (
	"bytes"
	"encoding/base64"
	"image/png"
	"math"
	"regexp"
	"strings"
	"testing"

	"rotorhum/kernel/show/player"
	"rotorhum/tacho"
)

func tone(t *testing.T, seconds float64, channels int) *tacho.Recording {
	t.Helper()
	const fs = 8000
	var chans [][]float64
	for c := range channels {
		x := make([]float64, int(seconds*fs))
		for i := range x {
			x[i] = float64(1-2*(c%2)) * math.Sin(2*math.Pi*440*float64(i)/fs) / 2
			if c == 0 {
				x[i] += 0.25
			}
		}
		chans = append(chans, x)
	}
	rec, err := tacho.NewRecording("tone", fs, chans...)
	if err != nil {
		t.Fatal(err)
	}
	return rec
}

var data = regexp.MustCompile(`src="data:([a-z/]+);base64,([^"]+)"`)

func TestRecordingCanBeSeenAndHeard(t *testing.T) {
	rec := tone(t, 1.5, 2)
	b, ok, err := player.Render(t.Context(), rec)
	if err != nil || !ok {
		t.Fatalf("Render: %v, %v", ok, err)
	}
	if b.Data["text/plain"] != rec.String() {
		t.Errorf("text/plain = %q", b.Data["text/plain"])
	}
	parts := data.FindAllStringSubmatch(b.Data["text/html"].(string), -1)
	if len(parts) != 2 || parts[0][1] != "image/png" || parts[1][1] != "audio/wav" {
		t.Fatalf("%d embedded parts", len(parts))
	}
	pic, _ := base64.StdEncoding.DecodeString(parts[0][2])
	if _, err := png.Decode(bytes.NewReader(pic)); err != nil {
		t.Errorf("waveform: %v", err)
	}
	sound, _ := base64.StdEncoding.DecodeString(parts[1][2])
	back, err := tacho.Read(bytes.NewReader(sound), int64(len(sound)), "player")
	if err != nil {
		t.Fatal(err)
	}
	if back.Rate != 8000 || back.Frames != rec.Frames || back.Channels != 1 {
		t.Errorf("the player has %s", back)
	}
	// The two channels are opposite: their mean is the offset of the first.
	for i, x := range back.Channel(1) {
		if math.Abs(x-0.125) > 1.0/32768 {
			t.Fatalf("sample %d of the mix is %g, want 0.125", i, x)
		}
	}
}

func TestLongRecordingsArePlayedInPart(t *testing.T) {
	b, err := player.Bundle(t.Context(), tone(t, 300, 1))
	if err != nil {
		t.Fatal(err)
	}
	s := b.Data["text/html"].(string)
	if !strings.Contains(s, "the first 262 s of 300 s") || len(s) > 7<<20 {
		t.Errorf("%d bytes without the note", len(s))
	}
}

func TestOtherValuesAreLeftAlone(t *testing.T) {
	for _, v := range []any{nil, 3, "x", (*tacho.Recording)(nil)} {
		if _, ok, err := player.Render(t.Context(), v); ok || err != nil {
			t.Errorf("Render(%v) = %v, %v", v, ok, err)
		}
	}
}
