package tacho

import (
	"bytes"
	"context"
	"errors"
	"math/bits"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"strings"
	"testing"
)

// What reading may cost: all that is allocated on the way, were none of it ever
// given back, is at most readOverhead and readMultiple times the file and the
// sound that comes out of it. So a file of a few bytes that promises a gigabyte
// gets no gigabyte.
const (
	readOverhead = 24 << 20 // a codebook of Vorbis is allowed some
	readMultiple = 16
)

// checkReader reads a file of any content in a decoder of one kind: no panic, an
// error of a known kind that says what to do and where, no more memory than is
// stated, and samples that can be had.
func checkReader(t *testing.T, file []byte, decode func(*encoded) (*decoded, error)) {
	t.Helper()
	if len(file) == 0 {
		return
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	in := newEncoded(bytes.NewReader(file), int64(len(file)), "fuzz", Watch{})
	rec, err := in.decode(decode)
	if err == nil {
		err = rec.measureLevels(context.Background(), nil)
	}
	runtime.ReadMemStats(&after)
	sound := 0
	if rec != nil {
		sound = rec.Frames * rec.Channels * 4
	}
	if used := int64(after.TotalAlloc - before.TotalAlloc); used > readOverhead+readMultiple*int64(len(file)+sound) {
		t.Fatalf("a file of %d bytes with %d bytes of sound took %d of memory", len(file), sound, used)
	}
	if err != nil {
		var fe *FileError
		if !errors.As(err, &fe) || fe.Kind == nil || fe.Problem == "" || fe.Offset > int64(len(file)) {
			t.Fatalf("error %T %v does not say enough", err, err)
		}
		if fe.Kind != ErrNotFinite && fe.Offset < 0 {
			t.Fatalf("%v does not say where", err)
		}
		return
	}
	if rec.Frames < 1 || rec.Channels < 1 || !(rec.Rate > 0) {
		t.Fatalf("%d bytes read as %+v", len(file), rec)
	}
	last := make([]float64, 1)
	if n, err := rec.Block(rec.Channels-1, rec.Frames-1, last); n != 1 || err != nil {
		t.Fatalf("the last sample: %d, %v", n, err)
	}
}

// addOdd seeds f with the odd files of some kinds.
func addOdd(f *testing.F, patterns ...string) {
	for _, pattern := range patterns {
		paths, err := filepath.Glob("testdata/odd/" + pattern)
		if err != nil || len(paths) == 0 {
			f.Fatalf("no file %s: %v", pattern, err)
		}
		for _, path := range paths {
			data, err := os.ReadFile(path)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(data)
		}
	}
}

// Damage that checksums catch never gets to the decoder: so the checksums of
// every second file are put right first.
func FuzzReadFLAC(f *testing.F) {
	addOdd(f, "*.flac")
	f.Fuzz(func(t *testing.T, file []byte) {
		checkReader(t, file, decodeFLAC)
		checkReader(t, mendFLAC(bytes.Clone(file)), decodeFLAC)
	})
}

func FuzzReadMP3(f *testing.F) {
	addOdd(f, "*.mp3")
	f.Fuzz(func(t *testing.T, file []byte) { checkReader(t, file, decodeMP3) })
}

func FuzzReadVorbis(f *testing.F) {
	addOdd(f, "*.ogg")
	f.Fuzz(func(t *testing.T, file []byte) {
		checkReader(t, file, decodeVorbis)
		checkReader(t, mendOgg(bytes.Clone(file)), decodeVorbis)
	})
}

// FuzzFFmpegOutput takes what the program might write to its two pipes, in
// pieces of any size: samples or none, and complaints of any kind.
func FuzzFFmpegOutput(f *testing.F) {
	said := "[info] Input #0, mov, from 'file:x':\n[info]   Duration: 00:00:06.02, start: 0.0, bitrate: 69 kb/s\n" +
		"[info]   Stream #0:0[0x1](und): Audio: aac (LC) (mp4a / 0x6134706D), 48000 Hz, mono, fltp, 69 kb/s (default)\n[info] Output #0, wav\n"
	whole := wavSpec{tag: tagFloat, channels: 1, rate: 48000, bits: 32, samples: [][]float64{ramp(9, 0)}, lieSize: true, dataSize: 0xffffffff}.build()
	f.Add(whole, []byte(said), byte(7), false)
	f.Add(whole[:44], []byte("[error] matches no streams\n"), byte(1), true)
	f.Add([]byte{}, []byte("[fatal] Invalid data found when processing input\n[info] Input #0\n"), byte(200), true)
	f.Add(whole[:50], []byte(said+said+"[error] [aac @ 0x1] channel element 0.0 is not allocated"), byte(0), false)
	f.Fuzz(func(t *testing.T, output, messages []byte, step byte, failed bool) {
		checkReader(t, append(output, 'x'), func(in *encoded) (*decoded, error) {
			out, m := &decoded{codec: "ffmpeg", spool: newSpool()}, &ffmpegMessages{}
			sink := &ffmpegSink{in: in, out: out, said: m, alive: func() {}}
			for rest := messages; len(rest) > 0; {
				n := min(len(rest), int(step)+1)
				m.Write(rest[:n])
				rest = rest[n:]
			}
			for rest := output; len(rest) > 0; {
				n := min(len(rest), 64*(int(step)+1))
				if _, err := sink.Write(rest[:n]); err != nil {
					return in.salvage(out, err, in.start)
				}
				rest = rest[n:]
			}
			var err error
			if failed {
				err = errors.New("exit status 1")
			}
			out, err = in.fromFFmpeg(kindMOV, out, m, err)
			if err == nil && !strings.HasSuffix(out.codec, "through ffmpeg") {
				t.Fatalf("codec %q", out.codec)
			}
			return out, err
		})
	})
}

// mendOgg puts the checksums of all pages right.
func mendOgg(file []byte) []byte {
	const size, sum, count = 27, 22, 26
	for rest := file; ; {
		i := bytes.Index(rest, []byte("OggS"))
		if i < 0 || len(rest) < i+size {
			return file
		}
		page := rest[i:]
		rest = rest[i+4:]
		body := size + int(page[count])
		if len(page) < body {
			continue
		}
		end := body
		for _, s := range page[size:body] {
			end += int(s)
		}
		if len(page) < end {
			continue
		}
		clear(page[sum : sum+4])
		le.PutUint32(page[sum:], oggSum(page[:end]))
		rest = page[end:]
	}
}

// mendFLAC puts the checksums of all frames right, as far as frames can be told:
// each begins with a synchronisation code, and they are numbered.
func mendFLAC(file []byte) []byte {
	var starts []int
	for i := 42; i+8 < len(file); i++ {
		if file[i] == 0xff && file[i+1]&0xfe == 0xf8 && int(file[i+4]) == len(starts) && flacHeader(file[i:]) > 0 {
			starts = append(starts, i)
		}
	}
	for k, i := range starts {
		end := len(file)
		if k+1 < len(starts) {
			end = starts[k+1]
		}
		n := flacHeader(file[i:])
		if end-i < n+2 {
			continue
		}
		file[i+n-1] = crc(file[i:i+n-1], 8, 0x07)[0]
		copy(file[end-2:], crc(file[i:end-2], 16, 0x8005))
	}
	return file
}

// flacHeader returns the length of the frame header at the beginning of b, its
// checksum included; 0 if it is none (RFC 9639, section 9.1).
func flacHeader(b []byte) int {
	n := 4
	if lead := bits.LeadingZeros8(^b[4]); lead == 0 {
		n++
	} else if lead >= 2 && lead <= 7 {
		n += lead
	} else {
		return 0
	}
	switch b[2] >> 4 {
	case 0:
		return 0
	case 6:
		n++
	case 7:
		n += 2
	}
	switch b[2] & 15 {
	case 15:
		return 0
	case 12:
		n++
	case 13, 14:
		n += 2
	}
	if n++; n > len(b) {
		return 0
	}
	return n
}

// crc is a checksum bit by bit, highest bit first, begun with 0.
func crc(b []byte, width int, polynomial uint) []byte {
	sum, top := uint(0), uint(1)<<(width-1)
	for _, c := range b {
		for i := 7; i >= 0; i-- {
			bit := uint(c) >> i & 1
			carry := sum&top != 0
			sum = sum << 1 & (2*top - 1)
			if carry != (bit == 1) {
				sum ^= polynomial
			}
		}
	}
	if width == 8 {
		return []byte{byte(sum)}
	}
	return []byte{byte(sum >> 8), byte(sum)}
}

// The checksums computed here are those of the files as they were made.
func TestMend(t *testing.T) {
	for name, mend := range map[string]func([]byte) []byte{"mono16.flac": mendFLAC, "stereo24.flac": mendFLAC, "mono.ogg": mendOgg, "stereo.ogg": mendOgg} {
		whole, err := os.ReadFile("testdata/odd/" + name)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(mend(bytes.Clone(whole)), whole) {
			t.Errorf("%s is not what it was", name)
		}
	}
}

// bomb returns a file of FLAC that claims mega million bytes of silence in some
// kilobytes: 8 channels of 16 bits in frames of constants (RFC 9639).
func bomb(mega int) []byte {
	file := append([]byte("fLaC"), 0x80, 0, 0, 34, 0xff, 0xff, 0xff, 0xff, 0, 0, 0, 0, 0, 0)
	// 20 bits of rate, 3 of channels less 1, 5 of bits less 1, 36 of samples
	file = append(file, 0x0b, 0xb8, 0x0e, 0xf0, 0, 0, 0, 0)
	file = append(file, make([]byte, 16)...) // no checksum of the samples
	frame := []byte{0xff, 0xf8, 0x70, 0x70, 0, 0xff, 0xfe}
	frame = append(frame, crc(frame, 8, 0x07)...)
	for range 8 {
		frame = append(frame, 0, 0, 1) // a constant
	}
	frame = append(frame, crc(frame, 16, 0x8005)...)
	for range mega {
		file = append(file, frame...)
	}
	return file
}

// What is in use at any time is bounded whatever a file unpacks to, and what is
// kept afterwards: 3 kB that unpack to 84 MB.
func TestMemoryIsBounded(t *testing.T) {
	defer debug.SetGCPercent(debug.SetGCPercent(10))
	file := bomb(80)
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	before, most, calls := m.HeapAlloc, uint64(0), 0
	in := newEncoded(bytes.NewReader(file), int64(len(file)), "bomb", Watch{Progress: func(float64) {
		if calls++; calls%8 == 0 {
			runtime.ReadMemStats(&m)
			most = max(most, m.HeapAlloc-min(before, m.HeapAlloc))
		}
	}})
	rec, err := in.read()
	if err != nil {
		t.Fatal(err)
	}
	if rec.Frames != 80*65535 || rec.Channels != 8 {
		t.Fatalf("%v", rec)
	}
	t.Logf("%d bytes unpack to %d and took up to %.1f MiB", len(file), rec.Frames*rec.Channels*2, float64(most)/(1<<20))
	if most > 2*inMemory {
		t.Errorf("%d bytes of memory in use", most)
	}
	runtime.GC()
	runtime.ReadMemStats(&m)
	if kept := int64(m.HeapAlloc) - int64(before); kept > 4<<20 {
		t.Errorf("%d bytes are kept of a recording in a temporary file", kept)
	}
	runtime.KeepAlive(rec)
}
