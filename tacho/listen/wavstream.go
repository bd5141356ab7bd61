package listen

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"

	"rotorhum/tacho"
)

// WAV is a WAV file that comes as a stream, such as recorder programs write to
// their standard output. The header tells the format; its sizes, which nobody
// could know when it was written, are not believed.
func WAV(r io.Reader) *Source {
	const name = "a stream in WAV format"
	return &Source{name: name, open: func() (*stream, error) {
		b := bufio.NewReader(r)
		f, err := readHead(b)
		if err != nil {
			return nil, err
		}
		return piped(name, b, f), nil
	}}
}

// maxHead bounds what may stand before the samples.
const maxHead = 1 << 20

// readHead reads up to the first sample and returns the format.
func readHead(r io.Reader) (f Format, err error) {
	bad := func(kind error, problem string, args ...any) (Format, error) {
		return Format{}, &tacho.FileError{File: "the stream", Offset: -1, Kind: kind, Problem: fmt.Sprintf(problem, args...),
			Advice: "for samples without a header, state their format"}
	}
	var head [12]byte
	if _, err := io.ReadFull(r, head[:]); err != nil {
		return bad(tacho.ErrNoSamples, "it ended after fewer than %d bytes", len(head))
	}
	if id := string(head[:4]); id != "RIFF" && id != "RF64" || string(head[8:]) != "WAVE" {
		return bad(tacho.ErrNotSound, "it does not begin like a WAV file")
	}
	known := false
	for before := int64(0); before < maxHead; {
		if _, err := io.ReadFull(r, head[:8]); err != nil {
			return bad(tacho.ErrDamaged, "it ended before the first sample")
		}
		id, size := string(head[:4]), int64(binary.LittleEndian.Uint32(head[4:]))
		switch {
		case id == "data" && known:
			return f, nil
		case id == "data":
			return bad(tacho.ErrDamaged, "samples come before their format is told")
		case size > maxHead:
			return bad(tacho.ErrDamaged, "a part %q of %d bytes stands before the samples", id, size)
		}
		content := make([]byte, size+size%2)
		if _, err := io.ReadFull(r, content); err != nil {
			return bad(tacho.ErrDamaged, "it ended before the first sample")
		}
		before += 8 + size
		if id == "fmt " {
			if f, err = parseFmt(content); err != nil {
				return bad(tacho.ErrUnsupported, "%v", err)
			}
			known = true
		}
	}
	return bad(tacho.ErrDamaged, "no samples follow within %d bytes", maxHead)
}

// The format tags of WAV files that hold plain samples (RFC 2361, appendix A).
const (
	tagPCM        = 0x0001
	tagFloat      = 0x0003
	tagExtensible = 0xFFFE
)

// parseFmt reads the content of a "fmt " chunk.
func parseFmt(b []byte) (Format, error) {
	le := binary.LittleEndian
	if len(b) < 16 {
		return Format{}, fmt.Errorf("its format is told in %d bytes, and at least 16 are needed", len(b))
	}
	tag, bits := le.Uint16(b), int(le.Uint16(b[14:]))
	if tag == tagExtensible && len(b) >= 40 {
		tag = le.Uint16(b[24:])
	}
	f := Format{Rate: int(le.Uint32(b[4:])), Channels: int(le.Uint16(b[2:]))}
	for e := range encodings {
		if e.bits() == bits && (e == F32) == (tag == tagFloat) && (tag == tagFloat || tag == tagPCM) {
			f.Encoding = e
		}
	}
	if f.Encoding == "" || int(le.Uint16(b[12:])) != f.frameBytes() {
		return f, fmt.Errorf("its samples have %d bits of kind %#04x; send 16, 24 or 32-bit PCM or 32-bit floating-point numbers", bits, tag)
	}
	return f.normal()
}

// bits returns the size of a sample in bits.
func (e Encoding) bits() int { return 8 * encodings[e] }
