package tacho

import (
	"bytes"
	"testing"
)

// What reading costs: a minute of 16-bit stereo at 48 kHz, read and checked
// once (ReadWAV), and then read block by block (Block). MB/s are of the file.
func BenchmarkReadWAV(b *testing.B) {
	file := benchMinute()
	b.SetBytes(int64(len(file)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Read(bytes.NewReader(file), int64(len(file)), "minute.wav"); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkBlock(b *testing.B) {
	file := benchMinute()
	rec, err := Read(bytes.NewReader(file), int64(len(file)), "minute.wav")
	if err != nil {
		b.Fatal(err)
	}
	block := make([]float64, 1<<14)
	b.SetBytes(int64(len(file)))
	b.ReportAllocs()
	for b.Loop() {
		for ch := range rec.Channels {
			for start := 0; start < rec.Frames; start += len(block) {
				if _, err := rec.Block(ch, start, block); err != nil {
					b.Fatal(err)
				}
			}
		}
	}
}

func benchMinute() []byte {
	one := ramp(48000, 0)
	var minute []float64
	for range 60 {
		minute = append(minute, one...)
	}
	return wavSpec{channels: 2, rate: 48000, bits: 16, samples: [][]float64{minute, minute}}.build()
}
