package tacho

import (
	"bytes"
	"encoding/binary"
	"math"
)

// wavSpec describes a WAV file for tests; build makes its bytes, right or wrong
// as asked. It shares no code with the reader.
type wavSpec struct {
	tag        uint16 // 0 stands for PCM
	channels   int
	rate       uint32
	bits       int
	container  int    // bytes of a sample; 0 stands for what bits need
	blockAlign int    // 0 stands for what is right
	extensible uint16 // sub-format, if not 0
	before     []chunk
	between    []chunk
	after      []chunk
	noPad      bool // leave out padding bytes
	dataSize   int64
	lieSize    bool // dataSize is what the data chunk says
	samples    [][]float64
	rawData    []byte // instead of samples
}

type chunk struct {
	id   string
	data []byte
}

func (s wavSpec) build() []byte {
	le := binary.LittleEndian
	container := s.container
	if container == 0 {
		container = (s.bits + 7) / 8
	}
	tag := s.tag
	if tag == 0 {
		tag = 1
	}
	align := s.blockAlign
	if align == 0 {
		align = s.channels * container
	}
	var body bytes.Buffer
	put := func(id string, data []byte, size int64) {
		body.WriteString(id)
		body.Write(le.AppendUint32(nil, uint32(size)))
		body.Write(data)
		if len(data)%2 == 1 && !s.noPad {
			body.WriteByte(0)
		}
	}
	for _, c := range s.before {
		put(c.id, c.data, int64(len(c.data)))
	}
	var f []byte
	inFile := tag
	if s.extensible != 0 {
		inFile, tag = 0xFFFE, s.extensible
	}
	f = le.AppendUint16(f, inFile)
	f = le.AppendUint16(f, uint16(s.channels))
	f = le.AppendUint32(f, s.rate)
	f = le.AppendUint32(f, s.rate*uint32(align))
	f = le.AppendUint16(f, uint16(align))
	f = le.AppendUint16(f, uint16(s.bits))
	if s.extensible != 0 {
		f = le.AppendUint16(f, 22)
		f = le.AppendUint16(f, uint16(s.bits))
		f = le.AppendUint32(f, 0)
		f = le.AppendUint16(f, s.extensible)
		f = append(f, "\x00\x00\x00\x00\x10\x00\x80\x00\x00\xaa\x00\x38\x9b\x71"...)
	}
	put("fmt ", f, int64(len(f)))
	for _, c := range s.between {
		put(c.id, c.data, int64(len(c.data)))
	}
	data := s.rawData
	if data == nil {
		data = encodeSamples(s.samples, tag, container)
	}
	size := int64(len(data))
	if s.lieSize {
		size = s.dataSize
	}
	put("data", data, size)
	for _, c := range s.after {
		put(c.id, c.data, int64(len(c.data)))
	}
	out := []byte("RIFF")
	out = le.AppendUint32(out, uint32(4+body.Len()))
	out = append(out, "WAVE"...)
	return append(out, body.Bytes()...)
}

// encodeSamples interleaves and encodes channels, rounding to the nearest step.
func encodeSamples(channels [][]float64, tag uint16, container int) []byte {
	le := binary.LittleEndian
	var out []byte
	for j := range channels[0] {
		for _, x := range channels {
			switch {
			case tag == 3 && container == 4:
				out = le.AppendUint32(out, math.Float32bits(float32(x[j])))
			case tag == 3:
				out = le.AppendUint64(out, math.Float64bits(x[j]))
			default:
				v := encodeInt(x[j], container)
				if container == 1 {
					v += 128
				}
				out = append(out, le.AppendUint64(nil, uint64(v))[:container]...)
			}
		}
	}
	return out
}

func encodeInt(x float64, container int) int64 {
	top := math.Ldexp(1, 8*container-1)
	return int64(max(-top, min(top-1, math.RoundToEven(x*top))))
}

// ramp returns n samples that go through many values of both signs.
func ramp(n int, seed float64) []float64 {
	x := make([]float64, n)
	for j := range x {
		x[j] = 0.97 * math.Sin(seed+0.7*float64(j)) * math.Cos(0.013*float64(j*j))
	}
	return x
}

func readBytes(b []byte) (*Recording, error) {
	return Read(bytes.NewReader(b), int64(len(b)), "test.wav")
}
