package listen

import (
	"encoding/binary"
	"math"
)

// mono makes of frames the one sequence of samples that is followed.
//
// One channel is taken as it is, or the one that was chosen. Of several, the mean
// is taken, each with the sign of its correlation with the first: a microphone
// wired in opposite sense on two channels would vanish from a plain mean.
type mono struct {
	format Format
	only   int       // channel to take, counted from 0; negative for all
	plain  bool      // the plain mean was asked for
	sign   []float32 // of each channel
	along  []float64 // correlation of each channel with the first, fading
	out    []float32
}

// correlationSeconds is how long a correlation between channels is remembered.
const correlationSeconds = 1.0

func newMono(f Format, channel int) (*mono, error) {
	m := &mono{format: f, only: -1, sign: make([]float32, f.Channels), along: make([]float64, f.Channels)}
	for i := range m.sign {
		m.sign[i] = 1
	}
	switch {
	case channel > f.Channels:
		return nil, optionError("channel %d is to be heard, and the sound has %d", channel, f.Channels)
	case channel > 0:
		m.only = channel - 1
	case f.Channels == 1:
		m.only = 0
	case channel < 0:
		m.plain = true
	}
	return m, nil
}

// mix returns the samples of whole frames, full scale 1, until the next call,
// and reports whether some channel stood at full scale.
func (m *mono) mix(block []byte) (x []float32, full bool) {
	n := len(block) / m.format.frameBytes()
	m.out = append(m.out[:0], make([]float32, n)...)
	width, size := m.format.frameBytes(), m.format.sampleBytes()
	decode, top := decoder(m.format.Encoding)
	if m.only >= 0 {
		for i := range m.out {
			v := decode(block[i*width+m.only*size:])
			m.out[i] = v
			full = full || v >= top || v <= -1
		}
		return m.out, full
	}
	scale := 1 / float32(m.format.Channels)
	sum := make([]float64, m.format.Channels)
	for i := range m.out {
		var first, mean float32
		for ch := range m.sign {
			v := decode(block[i*width+ch*size:])
			full = full || v >= top || v <= -1
			if ch == 0 {
				first = v
			}
			sum[ch] += float64(first) * float64(v)
			mean += m.sign[ch] * v
		}
		m.out[i] = scale * mean
	}
	if !m.plain {
		keep := math.Exp(-m.format.seconds(int64(n)) / correlationSeconds)
		for ch := range m.along {
			m.along[ch] = keep*m.along[ch] + sum[ch]
			m.sign[ch] = 1
			if m.along[ch] < 0 {
				m.sign[ch] = -1
			}
		}
	}
	return m.out, full
}

// decoder returns a function that decodes the sample at the beginning of b, and
// the highest value that it can give.
func decoder(e Encoding) (decode func(b []byte) float32, top float32) {
	le := binary.LittleEndian
	switch e {
	case U8:
		return func(b []byte) float32 { return float32(int(b[0])-128) / 128 }, 127. / 128
	case S24:
		return func(b []byte) float32 {
			return float32(int32(b[0])<<8|int32(b[1])<<16|int32(b[2])<<24) / (1 << 31)
		}, 1 - 1./(1<<23)
	case S32:
		return func(b []byte) float32 { return float32(int32(le.Uint32(b))) / (1 << 31) }, 1
	case F32:
		return func(b []byte) float32 { return math.Float32frombits(le.Uint32(b)) }, 1
	}
	return func(b []byte) float32 { return float32(int16(le.Uint16(b))) / (1 << 15) }, 1 - 1./(1<<15)
}
