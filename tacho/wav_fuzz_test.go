package tacho

import (
	"bytes"
	"errors"
	"math"
	"testing"
)

// FuzzReadWAV feeds the reader anything. Whatever it makes of it, it must not
// panic; an error must be of a known kind; and what it decodes must encode and
// decode again to the same samples.
func FuzzReadWAV(f *testing.F) {
	one := [][]float64{ramp(9, 0)}
	two := [][]float64{ramp(5, 0), ramp(5, 1)}
	for _, s := range []wavSpec{
		{channels: 1, rate: 8000, bits: 8, samples: one},
		{channels: 2, rate: 48000, bits: 16, samples: two},
		{channels: 1, rate: 44100, bits: 24, samples: one, between: []chunk{{"odd ", []byte{1}}}},
		{channels: 2, rate: 96000, bits: 32, samples: two, extensible: 1},
		{tag: 3, channels: 1, rate: 44100, bits: 32, samples: one},
		{tag: 3, channels: 2, rate: 44100, bits: 64, samples: two, extensible: 3},
		{channels: 1, rate: 8000, bits: 16, samples: one, lieSize: true, dataSize: 0xffffffff},
		{channels: 1, rate: 8000, bits: 16, samples: one, lieSize: true, dataSize: 0},
		{tag: 7, channels: 1, rate: 8000, bits: 8, rawData: []byte{1, 2, 3}},
	} {
		f.Add(s.build())
	}
	f.Add([]byte("RIFF\x00\x00\x00\x00WAVE"))
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, file []byte) {
		rec, err := Read(bytes.NewReader(file), int64(len(file)), "fuzz.wav")
		if err != nil {
			var fe *FileError
			if !errors.As(err, &fe) || fe.Kind == nil || fe.Problem == "" || fe.Advice == "" {
				t.Fatalf("error %T %v does not say enough", err, err)
			}
			return
		}
		if rec.Frames < 1 || rec.Channels < 1 || !(rec.Rate > 0) || rec.Frames > len(file) || rec.Channels > len(file) {
			t.Fatalf("%d bytes read as %+v", len(file), rec)
		}
		channels := min(rec.Channels, 8)
		again := wavSpec{tag: 3, channels: channels, rate: 48000, bits: 64}
		for ch := range channels {
			x := rec.Channel(ch + 1)
			for j, v := range x {
				if math.IsNaN(v) || math.Abs(v) > maxSample {
					t.Fatalf("sample %d of channel %d is %v", j, ch+1, v)
				}
			}
			again.samples = append(again.samples, x)
		}
		back, err := readBytes(again.build())
		if err != nil {
			t.Fatal(err)
		}
		for ch, want := range again.samples {
			if got := back.Channel(ch + 1); !equalSamples(got, want) {
				t.Fatalf("channel %d: %v encodes and decodes to %v", ch+1, want, got)
			}
		}
	})
}
