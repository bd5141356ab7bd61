package tacho

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"

	"github.com/go-audio/audio"
	"github.com/go-audio/wav"
)

// newBytesAt makes an io.ReaderAt of bytes.
func newBytesAt(b []byte) io.ReaderAt { return bytes.NewReader(b) }

// waveData decodes the samples of a WAV file straight from its bytes.
//
// Integers are decoded by the wav library. It is given, each time, a small
// file of our own making: a plain header that we know to be true, and the
// bytes of one channel. So it never sees what it cannot handle (version 1.1.0
// takes floating-point and companded samples for integers, reads the padding
// byte of odd-sized data as sound, and reports a shortened file as whole).
type waveData struct {
	wavFormat
	r      io.ReaderAt
	offset int64 // of the first sample
}

// decodeFrames is how many frames are read from the file at once.
const decodeFrames = 1 << 13

func (d *waveData) quantum() float64 {
	if d.float {
		return 0
	}
	return math.Ldexp(1, 1-d.bits)
}

func (d *waveData) read(ch, start int, dst []float64) error {
	frame := d.frameBytes()
	frames := min(len(dst), decodeFrames, max(1, int(8<<20/frame)))
	raw := make([]byte, int64(frames)*frame)
	one := make([]byte, plainHeaderSize+frames*d.bytes)
	var ints *audio.IntBuffer
	if !d.float {
		ints = &audio.IntBuffer{Data: make([]int, frames)}
	}
	for len(dst) > 0 {
		n := min(len(dst), frames)
		at := d.offset + int64(start)*frame
		block := raw[:int64(n)*frame]
		if got, err := d.r.ReadAt(block, at); got < len(block) {
			return fmt.Errorf("the file has changed or cannot be read at byte %d: %w", at+int64(got), err)
		}
		samples := one[plainHeaderSize : plainHeaderSize+n*d.bytes]
		gather(samples, block, ch*d.bytes, d.bytes, int(frame))
		if d.float {
			decodeFloats(dst[:n], samples, d.bytes)
		} else if err := decodeInts(dst[:n], one[:plainHeaderSize+n*d.bytes], d.bytes, ints); err != nil {
			return err
		}
		dst, start = dst[n:], start+n
	}
	return nil
}

// gather copies the size bytes at offset at of every frame in src to dst.
func gather(dst, src []byte, at, size, frame int) {
	if size == frame {
		copy(dst, src)
		return
	}
	for i := 0; i+size <= len(dst); i += size {
		copy(dst[i:i+size], src[at:at+size])
		at += frame
	}
}

func decodeFloats(dst []float64, src []byte, size int) {
	if size == 4 {
		for i := range dst {
			dst[i] = float64(math.Float32frombits(binary.LittleEndian.Uint32(src[4*i:])))
		}
		return
	}
	for i := range dst {
		dst[i] = math.Float64frombits(binary.LittleEndian.Uint64(src[8*i:]))
	}
}

// decodeInts decodes the mono samples in file, which has room for a plain
// header before them, and scales them to full scale 1.
func decodeInts(dst []float64, file []byte, size int, ints *audio.IntBuffer) error {
	putPlainHeader(file, size)
	ints.Data = ints.Data[:len(dst)]
	n, err := wav.NewDecoder(bytes.NewReader(file)).PCMBuffer(ints)
	if err != nil {
		return err
	}
	if n != len(dst) {
		return fmt.Errorf("decoded %d samples of %d", n, len(dst))
	}
	centre := 0
	if size == 1 {
		centre = 128
	}
	scale := math.Ldexp(1, 1-8*size)
	for i, v := range ints.Data {
		dst[i] = float64(v-centre) * scale
	}
	return nil
}

// plainHeaderSize is the length of the shortest WAV header.
const plainHeaderSize = 44

// putPlainHeader writes, at the beginning of file, the header that makes of the
// rest a mono file of integer samples of the given size in bytes.
func putPlainHeader(file []byte, size int) {
	le := binary.LittleEndian
	const fs = 48000 // the decoder only reports it
	n := len(file) - plainHeaderSize
	copy(file, "RIFF")
	le.PutUint32(file[4:], uint32(len(file)-8))
	copy(file[8:], "WAVEfmt ")
	le.PutUint32(file[16:], 16)
	le.PutUint16(file[20:], tagPCM)
	le.PutUint16(file[22:], 1)
	le.PutUint32(file[24:], fs)
	le.PutUint32(file[28:], uint32(fs*size))
	le.PutUint16(file[32:], uint16(size))
	le.PutUint16(file[34:], uint16(8*size))
	copy(file[36:], "data")
	le.PutUint32(file[40:], uint32(n))
}
