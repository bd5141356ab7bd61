package tacho

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"runtime"
	"strings"
	"testing"
)

// Every kind of sample, plain and extensible, in one to five channels of odd and
// even numbers of frames, with chunks around the data.
func TestReadWAVKinds(t *testing.T) {
	extra := []chunk{{"LIST", []byte("INFOISFT\x04\x00\x00\x00us!\x00")}, {"odd ", []byte{1, 2, 3}}}
	type kind struct {
		tag  uint16
		bits int
	}
	for _, k := range []kind{{1, 8}, {1, 16}, {1, 24}, {1, 32}, {3, 32}, {3, 64}} {
		for channels := 1; channels <= 5; channels++ {
			for _, frames := range []int{1, 2, 7, 100, 20001} {
				for _, extensible := range []bool{false, true} {
					s := wavSpec{tag: k.tag, channels: channels, rate: 44100, bits: k.bits, before: extra[:1], between: extra, after: extra}
					for ch := range channels {
						s.samples = append(s.samples, ramp(frames, float64(ch)))
					}
					if extensible {
						s.extensible = k.tag
					}
					name := fmt.Sprintf("tag %d, %d bits, %d channels, %d frames, extensible %v", k.tag, k.bits, channels, frames, extensible)
					checkDecoded(t, name, s)
				}
			}
		}
	}
}

// checkDecoded builds s, reads it and compares every sample: exactly for what
// the encoding can hold.
func checkDecoded(t *testing.T, name string, s wavSpec) {
	t.Helper()
	file := s.build()
	rec, err := readBytes(file)
	if err != nil {
		t.Errorf("%s: %v", name, err)
		return
	}
	if rec.Rate != float64(s.rate) || rec.Channels != s.channels || rec.Frames != len(s.samples[0]) {
		t.Errorf("%s: read %g Hz, %d channels, %d frames", name, rec.Rate, rec.Channels, rec.Frames)
		return
	}
	if len(rec.Warnings) != 0 && rec.Frames > 2 {
		t.Errorf("%s: warnings %q", name, rec.Warnings)
	}
	if want := sha256.Sum256(file); rec.SHA256 != hex.EncodeToString(want[:]) {
		t.Errorf("%s: SHA256 %s", name, rec.SHA256)
	}
	for ch, x := range s.samples {
		got := rec.Channel(ch + 1)
		for j, v := range x {
			want := v
			switch {
			case s.tag == 3 && s.bits == 32:
				want = float64(float32(v))
			case s.tag != 3:
				bytes := (s.bits + 7) / 8
				want = float64(encodeInt(v, bytes)) / math.Ldexp(1, 8*bytes-1)
			}
			if got[j] != want {
				t.Errorf("%s: channel %d, sample %d = %v, want %v", name, ch+1, j, got[j], want)
				return
			}
		}
	}
}

// All 8-bit codes, and the extreme and middle codes of the others, by hand.
func TestReadWAVCodes(t *testing.T) {
	for _, c := range []struct {
		bits int
		raw  []byte
		want []float64
	}{
		{8, []byte{0, 1, 127, 128, 129, 255}, []float64{-1, -127.0 / 128, -1.0 / 128, 0, 1.0 / 128, 127.0 / 128}},
		{16, []byte{0, 0x80, 0xff, 0xff, 0, 0, 1, 0, 0xff, 0x7f}, []float64{-1, -1.0 / 32768, 0, 1.0 / 32768, 32767.0 / 32768}},
		{24, []byte{0, 0, 0x80, 0xff, 0xff, 0xff, 0, 0, 0, 1, 0, 0, 0xff, 0xff, 0x7f, 0x56, 0x34, 0x12},
			[]float64{-1, -1.0 / (1 << 23), 0, 1.0 / (1 << 23), 8388607.0 / (1 << 23), 0x123456p-23}},
		{32, []byte{0, 0, 0, 0x80, 0xff, 0xff, 0xff, 0xff, 0, 0, 0, 0, 1, 0, 0, 0, 0xff, 0xff, 0xff, 0x7f},
			[]float64{-1, -1.0 / (1 << 31), 0, 1.0 / (1 << 31), 2147483647.0 / (1 << 31)}},
	} {
		rec, err := readBytes(wavSpec{channels: 1, rate: 8000, bits: c.bits, rawData: c.raw}.build())
		if err != nil {
			t.Fatalf("%d bits: %v", c.bits, err)
		}
		got := rec.Channel(1)
		if len(got) != len(c.want) {
			t.Fatalf("%d bits: %d samples, want %d", c.bits, len(got), len(c.want))
		}
		for j := range got {
			if got[j] != c.want[j] {
				t.Errorf("%d bits: sample %d = %v, want %v", c.bits, j, got[j], c.want[j])
			}
		}
	}
}

// What is read all the same, and the warning that must say so.
func TestReadWAVWarns(t *testing.T) {
	mono := func(bits, frames int) wavSpec {
		return wavSpec{channels: 1, rate: 8000, bits: bits, samples: [][]float64{ramp(frames, 0)}}
	}
	edit := func(s wavSpec, f func(*wavSpec)) wavSpec { f(&s); return s }
	for _, c := range []struct {
		name   string
		file   []byte
		frames int
		warn   string
	}{
		{"promises more than there is", edit(mono(16, 100), func(s *wavSpec) { s.lieSize, s.dataSize = true, 1000 }).build(), 100, "cut short"},
		{"cut in the middle of a sample", mono(16, 100).build()[:44+151], 75, "cut short"},
		{"cut in the middle of a frame", wavSpec{channels: 2, rate: 8000, bits: 16, samples: [][]float64{ramp(50, 0), ramp(50, 1)}}.build()[:44+150], 37, "less than a frame"},
		{"size of a stream", edit(mono(24, 101), func(s *wavSpec) { s.lieSize, s.dataSize, s.noPad = true, 0xffffffff, true }).build(), 101, "leaves the amount of sound open"},
		{"size of a stream, less a header", edit(mono(16, 100), func(s *wavSpec) { s.lieSize, s.dataSize = true, 0x7ffff000 }).build(), 100, "leaves the amount of sound open"},
		{"recorder not stopped", edit(mono(16, 100), func(s *wavSpec) { s.lieSize, s.dataSize = true, 0 }).build(), 100, "not stopped properly"},
		{"odd chunk without padding", edit(mono(16, 100), func(s *wavSpec) { s.between, s.noPad = []chunk{{"inst", make([]byte, 7)}}, true }).build(), 100, "no padding byte"},
		{"block size that fits nothing", edit(mono(16, 100), func(s *wavSpec) { s.blockAlign = 3 }).build(), 100, "the latter is used"},
		{"24 bits in four bytes", edit(mono(24, 100), func(s *wavSpec) { s.container = 4 }).build(), 100, "left-aligned"},
		{"rate nobody records at", wavSpec{channels: 1, rate: 7, bits: 16, samples: [][]float64{ramp(100, 0)}}.build(), 100, "unusual"},
		{"two data chunks", edit(mono(16, 100), func(s *wavSpec) { s.after = []chunk{{"data", make([]byte, 50)}} }).build(), 100, ""},
		{"junk behind the end", append(mono(16, 100).build(), "\x00\x01junk"...), 100, ""},
		{"size that overflowed", append(mono(16, 100).build(), make([]byte, 1000)...), 100, "1000 bytes follow"},
		{"data before format", dataFirst(mono(16, 100)), 100, ""},
	} {
		rec, err := readBytes(c.file)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if rec.Frames != c.frames {
			t.Errorf("%s: %d frames, want %d", c.name, rec.Frames, c.frames)
		}
		warned := strings.Join(rec.Warnings, "; ")
		if !strings.Contains(warned, c.warn) || (c.warn == "") != (warned == "") {
			t.Errorf("%s: warned %q, want %q in it", c.name, warned, c.warn)
		}
		if c.name == "24 bits in four bytes" || c.frames != 100 {
			continue
		}
		// The samples that are there must be the right ones.
		want, got := ramp(100, 0), rec.Channel(1)
		for j := range got {
			if math.Abs(got[j]-want[j]) > 1.0/32768 {
				t.Errorf("%s: sample %d = %v, want %v", c.name, j, got[j], want[j])
				break
			}
		}
	}
}

// dataFirst moves the data chunk in front of the format.
func dataFirst(s wavSpec) []byte {
	file := s.build()
	out := append([]byte{}, file[:12]...)
	out = append(out, file[36:]...)
	return append(out, file[12:36]...)
}

// What is refused: with which kind, naming which chunk and byte.
// There is no ffmpeg here that might help.
func TestReadWAVRefuses(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	mono := func(f func(*wavSpec)) []byte {
		s := wavSpec{channels: 1, rate: 8000, bits: 16, samples: [][]float64{ramp(100, 0)}}
		f(&s)
		return s.build()
	}
	floats := func(bits int, x ...float64) []byte {
		return wavSpec{tag: 3, channels: 1, rate: 8000, bits: bits, samples: [][]float64{x}}.build()
	}
	good := mono(func(*wavSpec) {})
	badGUID := wavSpec{extensible: 1, channels: 1, rate: 8000, bits: 16, samples: [][]float64{ramp(9, 0)}}.build()
	badGUID[12+8+30]++
	for _, c := range []struct {
		name   string
		file   []byte
		kind   error
		offset int64
		says   string
	}{
		{"nothing", nil, ErrNoSamples, 0, "empty"},
		{"one byte", []byte("R"), ErrDamaged, 0, "1 bytes"},
		{"cut in the first header", good[:9], ErrDamaged, 0, "9 bytes"},
		{"text", []byte("Once upon a time"), ErrNotSound, 0, `"Once upon a "`},
		{"RIFX", append([]byte("RIFX"), good[4:]...), ErrUnsupported, 0, "big-endian"},
		{"no FLAC behind its name", append([]byte("fLaC"), good[4:]...), ErrDamaged, 8, "cannot be decoded"},
		{"playlist", []byte("#EXTM3U\n/etc/passwd\n"), ErrNotSound, 0, "playlist"},
		{"list of ffmpeg", []byte("ffconcat version 1.0\nfile /etc/passwd\n"), ErrNotSound, 0, "playlist"},
		{"archive", []byte("PK\x03\x04 and so on"), ErrNotSound, 0, "unpack"},
		{"phone video", append([]byte("\x00\x00\x00\x20ftypisom"), good...), ErrUnsupported, 0, "MPEG-4"},
		{"AVI", append([]byte("RIFF1234AVI "), good...), ErrUnsupported, 0, "AVI"},
		{"no chunks", good[:12], ErrDamaged, 12, "fmt "},
		{"format cut off", good[:30], ErrDamaged, 12, "at least 16"},
		{"no data", good[:36], ErrDamaged, 36, "data"},
		{"data header cut off", good[:40], ErrDamaged, 40, "data"},
		{"no sound in data", good[:44], ErrNoSamples, 36, "0 bytes"},
		{"half a frame", good[:45], ErrNoSamples, 36, "1 bytes"},
		{"empty data with a chunk behind", mono(func(s *wavSpec) { s.rawData, s.after = []byte{}, []chunk{{"LIST", make([]byte, 40)}} }), ErrNoSamples, 36, "0 bytes"},
		{"mu-law", mono(func(s *wavSpec) { s.tag, s.rawData = 7, make([]byte, 80) }), ErrUnsupported, 12, "mu-law"},
		{"A-law", mono(func(s *wavSpec) { s.tag, s.rawData = 6, make([]byte, 80) }), ErrUnsupported, 12, "A-law"},
		{"ADPCM", mono(func(s *wavSpec) { s.tag, s.rawData = 2, make([]byte, 80) }), ErrUnsupported, 12, "ADPCM"},
		{"mu-law in extensible", mono(func(s *wavSpec) { s.extensible, s.rawData = 7, make([]byte, 80) }), ErrUnsupported, 12, "mu-law"},
		{"format nobody knows", mono(func(s *wavSpec) { s.tag, s.rawData = 0x1234, make([]byte, 80) }), ErrUnsupported, 12, "0x1234"},
		{"sub-format nobody knows", badGUID, ErrUnsupported, 12, "sub-format"},
		{"extensible of 16 bytes", mono(func(s *wavSpec) { s.tag, s.rawData = 0xFFFE, make([]byte, 80) }), ErrDamaged, 12, "expected 40"},
		{"no channels", mono(func(s *wavSpec) { s.channels, s.blockAlign = 0, 2 }), ErrDamaged, 12, "0 channels"},
		{"rate 0", mono(func(s *wavSpec) { s.rate = 0 }), ErrDamaged, 12, "0 Hz"},
		{"0 bits", mono(func(s *wavSpec) { s.bits, s.rawData = 0, make([]byte, 8) }), ErrDamaged, 12, "0 bits"},
		{"40 bits", mono(func(s *wavSpec) { s.bits = 40 }), ErrUnsupported, 12, "40 bits"},
		{"16-bit float", mono(func(s *wavSpec) { s.tag, s.rawData = 3, make([]byte, 80) }), ErrUnsupported, 12, "32 or 64"},
		{"no chunk identifier", append(append([]byte{}, good[:12]...), make([]byte, 60)...), ErrDamaged, 12, `\x00`},
		{"only empty chunks", append(append([]byte{}, good[:12]...), bytes.Repeat([]byte("junk\x00\x00\x00\x00"), 5000)...), ErrDamaged, 12 + 8*4096, "4096 chunks"},
		{"format said to be 4 GB", oversized(good, 16), ErrDamaged, -2, "data"},
		{"chunk said to be 4 GB", append(append([]byte{}, good[:12]...), "junk\xff\xff\xff\xffabcd"...), ErrDamaged, 12, "fmt "},
		{"NaN", floats(32, 0, 0.5, math.NaN()), ErrNotFinite, 44 + 8, "sample 2 of channel 1"},
		{"infinite", floats(64, math.Inf(1)), ErrNotFinite, 44, "sample 0"},
		{"huge", floats(64, 1, -1e300), ErrNotFinite, 44 + 8, "sample 1"},
	} {
		rec, err := readBytes(c.file)
		if err == nil {
			t.Errorf("%s: read as %v", c.name, rec)
			continue
		}
		var fe *FileError
		if !errors.As(err, &fe) {
			t.Errorf("%s: %T %v, want a FileError", c.name, err, err)
			continue
		}
		if !errors.Is(err, c.kind) {
			t.Errorf("%s: %v, want kind %q", c.name, err, c.kind)
		}
		if c.offset != -2 && fe.Offset != c.offset {
			t.Errorf("%s: at byte %d, want %d", c.name, fe.Offset, c.offset)
		}
		if !strings.Contains(err.Error(), c.says) || !strings.HasPrefix(err.Error(), "test.wav") || fe.Advice == "" {
			t.Errorf("%s: says %q, want %q in it, the file's name first and an advice", c.name, err, c.says)
		}
	}
}

// oversized returns file with the size of the chunk whose size is at offset set
// to the largest possible.
func oversized(file []byte, offset int) []byte {
	out := append([]byte{}, file...)
	binary.LittleEndian.PutUint32(out[offset:], 0xffffffff)
	return out
}

// A header may claim anything; memory must follow the file.
func TestReadWAVAllocatesByTheFile(t *testing.T) {
	s := wavSpec{channels: 65535, rate: 4294967295, bits: 32, blockAlign: 65535, rawData: make([]byte, 4*65535), lieSize: true, dataSize: 0xffffffff}
	file := s.build()
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	rec, err := readBytes(file)
	runtime.ReadMemStats(&after)
	if err != nil || rec.Frames != 1 {
		t.Fatalf("read %v, %v", rec, err)
	}
	// The levels of a channel take about a hundred bytes, its sample four.
	if got, limit := after.TotalAlloc-before.TotalAlloc, uint64(100*len(file)); got > limit {
		t.Errorf("%d bytes allocated for a file of %d, want at most %d", got, len(file), limit)
	}
}
