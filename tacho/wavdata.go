package tacho

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"sync"

	"github.com/go-audio/audio"
	"github.com/go-audio/wav"
)

// waveData decodes the samples of a WAV file straight from its bytes.
//
// Integers are decoded by the wav library. It is given, each time, a small
// file of our own making: a plain header that we know to be true, and some of
// the samples. So it never sees what it cannot handle (version 1.1.0
// takes floating-point and companded samples for integers, reads the padding
// byte of odd-sized data as sound, and reports a shortened file as whole).
type waveData struct {
	wavFormat
	r       io.ReaderAt
	offset  int64     // of the first sample
	decoded bool      // r is no file of the user's, but what was decoded from one
	readers sync.Pool // of *waveReader
}

// decodeBytes is about how many bytes are read from the file at once.
const decodeBytes = 1 << 16

func (d *waveData) quantum() float64 {
	if d.float {
		return 0
	}
	return math.Ldexp(1, 1-d.bits)
}

func (d *waveData) where(ch, frame int) (chunk string, offset int64) {
	if d.decoded {
		return "", -1
	}
	return "data", d.offset + int64(frame)*d.frameBytes() + int64(ch*d.bytes)
}

// waveReader is the scratch memory of one reading.
type waveReader struct {
	*waveData
	frames int    // that fit
	raw    []byte // frames as they are in the file
	file   []byte // a plain header, and samples behind it
	ints   audio.IntBuffer
}

// reader returns scratch memory for one reading; give it back to d.readers.
func (d *waveData) reader() *waveReader {
	if w, ok := d.readers.Get().(*waveReader); ok {
		return w
	}
	frame := d.frameBytes()
	w := &waveReader{waveData: d, frames: max(1, int(decodeBytes/frame))}
	w.raw = make([]byte, int64(w.frames)*frame)
	w.file = make([]byte, plainHeaderSize+len(w.raw))
	if !d.float {
		w.ints.Data = make([]int, w.frames*d.channels)
	}
	return w
}

// load reads n frames from frame start on.
func (w *waveReader) load(start, n int) ([]byte, error) {
	frame := w.frameBytes()
	at, block := w.offset+int64(start)*frame, w.raw[:int64(n)*frame]
	if got, err := w.r.ReadAt(block, at); got < len(block) {
		return nil, fmt.Errorf("the file has changed or cannot be read at byte %d: %w", at+int64(got), err)
	}
	return block, nil
}

// decode turns the samples that stand behind the header in w.file into numbers.
func (w *waveReader) decode(dst []float64) error {
	end := plainHeaderSize + len(dst)*w.bytes
	if w.float {
		decodeFloats(dst, w.file[plainHeaderSize:end], w.bytes)
		return nil
	}
	return decodeInts(dst, w.file[:end], w.bytes, &w.ints)
}

func (d *waveData) read(ch, start int, dst []float64) error {
	w := d.reader()
	defer d.readers.Put(w)
	for len(dst) > 0 {
		n := min(len(dst), w.frames)
		block, err := w.load(start, n)
		if err != nil {
			return err
		}
		gather(w.file[plainHeaderSize:plainHeaderSize+n*d.bytes], block, ch*d.bytes, d.bytes, int(d.frameBytes()))
		if err := w.decode(dst[:n]); err != nil {
			return err
		}
		dst, start = dst[n:], start+n
	}
	return nil
}

func (d *waveData) walk(start, frames int, visit func(frames []float64)) error {
	w := d.reader()
	defer d.readers.Put(w)
	samples := make([]float64, min(frames, w.frames)*d.channels)
	for done := 0; done < frames; done += w.frames {
		n := min(frames-done, w.frames)
		block, err := w.load(start+done, n)
		if err != nil {
			return err
		}
		copy(w.file[plainHeaderSize:], block)
		if err := w.decode(samples[:n*d.channels]); err != nil {
			return err
		}
		visit(samples[:n*d.channels])
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
	ints.Data = ints.Data[:len(dst)] // made long enough
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
