package synth

import (
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/go-audio/audio"
	"github.com/go-audio/wav"
)

// WAV returns the take as an integer WAV file of 16, 24 or 32 bits per sample,
// channels interleaved. Samples are rounded to the nearest step and limited to
// full scale. It returns an error for other bits, for a take without samples and
// for a sample that is not a number, and that of the watch's context if that ends
// first.
func (t *Take) WAV(bits int, watch ...Watch) ([]byte, error) {
	if bits != 16 && bits != 24 && bits != 32 {
		return nil, fmt.Errorf("synth: a WAV file with %d bits is not offered; use 16, 24 or 32", bits)
	}
	channels := len(t.Samples)
	if channels == 0 || len(t.Samples[0]) == 0 {
		return nil, errors.New("synth: a take without samples makes no WAV file")
	}
	n := len(t.Samples[0])
	for c, x := range t.Samples {
		if len(x) != n {
			return nil, fmt.Errorf("synth: channel %d has %d samples, channel 1 has %d", c+1, len(x), n)
		}
	}
	full := math.Ldexp(1, bits-1)
	file := memoryFile{data: make([]byte, 0, wavHead+n*channels*bits/8)}
	enc := wav.NewEncoder(&file, t.Rate, bits, channels, 1)
	piece := audio.IntBuffer{Format: &audio.Format{NumChannels: channels, SampleRate: t.Rate}, SourceBitDepth: bits}
	w := watched(watch)
	for from, to := range w.pieces(n) {
		piece.Data = piece.Data[:0]
		for i := from; i < to; i++ {
			for c, x := range t.Samples {
				if !finite(x[i]) {
					return nil, fmt.Errorf("synth: sample %d of channel %d is %v", i, c+1, x[i])
				}
				piece.Data = append(piece.Data, int(math.Max(-full, math.Min(full-1, math.RoundToEven(x[i]*full)))))
			}
		}
		if err := enc.Write(&piece); err != nil {
			return nil, err
		}
	}
	if err := w.err(); err != nil {
		return nil, err
	}
	if err := enc.Close(); err != nil {
		return nil, err
	}
	return file.data, nil
}

// wavHead is how many bytes stand before the samples.
const wavHead = 44

// memoryFile is a file in memory that can be written and sought, which is what
// the encoder asks for.
type memoryFile struct {
	data []byte
	at   int64
}

func (m *memoryFile) Write(p []byte) (int, error) {
	if end := m.at + int64(len(p)); end > int64(len(m.data)) {
		m.data = append(m.data, make([]byte, end-int64(len(m.data)))...)
	}
	copy(m.data[m.at:], p)
	m.at += int64(len(p))
	return len(p), nil
}

func (m *memoryFile) Seek(offset int64, whence int) (int64, error) {
	switch whence {
	case io.SeekCurrent:
		offset += m.at
	case io.SeekEnd:
		offset += int64(len(m.data))
	}
	if offset < 0 {
		return 0, errors.New("synth: seek before the start of the file")
	}
	m.at = offset
	return offset, nil
}
