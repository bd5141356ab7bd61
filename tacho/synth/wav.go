package synth

import (
	"fmt"
	"io"
	"math"

	"github.com/go-audio/audio"
	"github.com/go-audio/wav"
)

// WriteWAV writes the take as an integer WAV file of 16, 24 or 32 bits per
// sample, channels interleaved. Samples are rounded to the nearest step and
// limited to full scale. It does not close w.
func (t *Take) WriteWAV(w io.WriteSeeker, bits int) error {
	if bits != 16 && bits != 24 && bits != 32 {
		return fmt.Errorf("synth: a WAV file with %d bits is not offered; use 16, 24 or 32", bits)
	}
	channels := len(t.Samples)
	if channels == 0 || len(t.Samples[0]) == 0 {
		return fmt.Errorf("synth: a take without samples cannot be written")
	}
	enc := wav.NewEncoder(w, t.Rate, bits, channels, 1)
	full := math.Ldexp(1, bits-1)
	const chunk = 1 << 15
	format := &audio.Format{NumChannels: channels, SampleRate: t.Rate}
	data := make([]int, 0, chunk*channels)
	for at, n := 0, len(t.Samples[0]); at < n; at += chunk {
		data = data[:0]
		for i := at; i < min(n, at+chunk); i++ {
			for _, x := range t.Samples {
				data = append(data, int(math.Max(-full, math.Min(full-1, math.RoundToEven(x[i]*full)))))
			}
		}
		if err := enc.Write(&audio.IntBuffer{Format: format, Data: data, SourceBitDepth: bits}); err != nil {
			return err
		}
	}
	return enc.Close()
}
