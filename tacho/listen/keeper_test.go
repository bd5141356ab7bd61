package listen

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/go-audio/wav"

	"rotorhum/tacho"
)

// disk is a kept file in memory, on a disk with so many bytes.
type disk struct {
	data   []byte
	room   int
	closed bool
	// fail, if not nil, is asked before every write with its offset and size.
	fail func(at, n int) error
}

var errFull = errors.New("no space left on device")

func (d *disk) WriteAt(p []byte, at int64) (int, error) {
	if d.fail != nil {
		if err := d.fail(int(at), len(p)); err != nil {
			return 0, err
		}
	}
	n := len(p)
	var err error
	if int(at)+n > d.room {
		n, err = max(0, d.room-int(at)), errFull
	}
	if need := int(at) + n; need > len(d.data) {
		d.data = append(d.data, make([]byte, need-len(d.data))...)
	}
	copy(d.data[at:], p[:n])
	return n, err
}

func (d *disk) Truncate(size int64) error { d.data = d.data[:size]; return nil }
func (d *disk) Sync() error               { return nil }
func (d *disk) Close() error              { d.closed = true; return nil }

// ramp returns n frames whose bytes count on from start.
func ramp(f Format, start, n int) []byte {
	b := make([]byte, n*f.frameBytes())
	for i := range b {
		b[i] = byte(start*f.frameBytes() + i)
	}
	if f.Encoding == F32 { // numbers that a recording may hold
		for i := 0; i < len(b); i += 4 {
			binary.LittleEndian.PutUint32(b[i:], math.Float32bits(float32(i%100)/100))
		}
	}
	return b
}

var keptFormats = []Format{
	{48000, 1, S16}, {44100, 2, S16}, {48000, 1, S24}, {96000, 2, S24}, {48000, 3, S32}, {8000, 1, U8}, {48000, 1, F32}, {48000, 2, F32},
}

// After every write, whatever comes next, the bytes on the disk are a whole file
// with everything written so far.
func TestKeptFileIsWholeAtEveryMoment(t *testing.T) {
	for _, f := range keptFormats {
		d := &disk{room: math.MaxInt32}
		k, err := newKeeper(d, f)
		if err != nil {
			t.Fatal(err)
		}
		all := ramp(f, 0, 300)
		for done, n := 0, 1; done < 300; n = n%37 + 5 {
			n = min(n, 300-done)
			width := f.frameBytes()
			if err := k.Write(all[done*width : (done+n)*width]); err != nil {
				t.Fatal(err)
			}
			done += n
			opened(t, f, d.data, all[:done*width])
		}
		if err := k.Close(); err != nil || !d.closed {
			t.Fatal(err, d.closed)
		}
		if len(d.data)%2 != 0 {
			t.Errorf("%v: the file has %d bytes, an odd number", f, len(d.data))
		}
		opened(t, f, d.data, all)
	}
}

// opened checks that data is a WAV file of the format with these frames, by our
// own reader and, of integers, by another.
func opened(t *testing.T, f Format, data, frames []byte) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "kept.wav")
	if err := os.WriteFile(path, data, 0o666); err != nil {
		t.Fatal(err)
	}
	rec, err := tacho.Open(path)
	if err != nil {
		t.Fatalf("%v: %v", f, err)
	}
	if rec.Rate != float64(f.Rate) || rec.Channels != f.Channels || rec.Frames != len(frames)/f.frameBytes() {
		t.Fatalf("%v: read as %v, %d frames; want %d", f, rec, rec.Frames, len(frames)/f.frameBytes())
	}
	for _, w := range rec.Warnings {
		if strings.Contains(w, "bytes") {
			t.Errorf("%v: warning %q", f, w)
		}
	}
	decode, _ := decoder(f.Encoding)
	for ch := range f.Channels {
		for i, got := range rec.Channel(ch + 1) {
			if want := decode(frames[i*f.frameBytes()+ch*f.sampleBytes():]); float32(got) != want {
				t.Fatalf("%v: sample %d of channel %d = %v, want %v", f, i, ch+1, got, want)
			}
		}
	}
	if f.Encoding == F32 {
		return
	}
	dec := wav.NewDecoder(bytes.NewReader(data))
	buf, err := dec.FullPCMBuffer()
	if err != nil || int(dec.SampleRate) != f.Rate || int(dec.NumChans) != f.Channels || int(dec.BitDepth) != f.Encoding.bits() {
		t.Fatalf("%v: go-audio/wav reads %d Hz, %d channels, %d bits, %v", f, dec.SampleRate, dec.NumChans, dec.BitDepth, err)
	}
	if buf.NumFrames() != rec.Frames {
		t.Fatalf("%v: go-audio/wav reads %d frames, want %d", f, buf.NumFrames(), rec.Frames)
	}
}

// A program that is killed between or within two writes leaves a whole file: each
// state of the disk that can be is opened.
func TestKeptFileAfterACrashAnywhere(t *testing.T) {
	f := Format{48000, 2, S24}
	var states [][]byte
	d := &disk{room: math.MaxInt32}
	d.fail = func(at, n int) error {
		if k := len(d.data); k > 0 {
			states = append(states, bytes.Clone(d.data))
			if at >= k { // half of what is being written has got there
				states = append(states, append(bytes.Clone(d.data), ramp(f, 0, n)[:n/2]...))
			}
		}
		return nil
	}
	k, err := newKeeper(d, f)
	if err != nil {
		t.Fatal(err)
	}
	all := ramp(f, 0, 100)
	for i := 0; i < 100; i += 10 {
		k.Write(all[i*6 : (i+10)*6])
	}
	k.Close()
	least := 0
	for _, data := range states {
		path := filepath.Join(t.TempDir(), "crashed.wav")
		os.WriteFile(path, data, 0o666)
		rec, err := tacho.Open(path)
		if errors.Is(err, tacho.ErrNoSamples) && least == 0 {
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		if rec.Frames < least {
			t.Errorf("%d frames after there have been %d", rec.Frames, least)
		}
		least = rec.Frames
	}
	if least < 90 {
		t.Errorf("the last state holds %d frames of 100", least)
	}
}

// A full disk ends the keeping with an error; what fitted is whole.
func TestKeptFileOnAFullDisk(t *testing.T) {
	for _, f := range keptFormats {
		for room := 300; room < 330; room++ {
			d := &disk{room: room}
			k, err := newKeeper(d, f)
			if err != nil {
				t.Fatal(err)
			}
			all := ramp(f, 0, 300)
			width, done := f.frameBytes(), 0
			for err == nil && done < 300 {
				if err = k.Write(all[done*width : (done+10)*width]); err == nil {
					done += 10
				}
			}
			if !errors.Is(err, errFull) {
				t.Fatalf("%v: Write on a full disk = %v", f, err)
			}
			if err := k.Write(all[:width]); !errors.Is(err, errFull) {
				t.Errorf("Write after that = %v", err)
			}
			if k.frames() < int64(done) || k.frames() > int64(done+10) {
				t.Errorf("%d frames are kept, %d were written", k.frames(), done)
			}
			n := int(k.frames())
			if err := k.Close(); err != nil {
				t.Fatal(err)
			}
			if n > 0 {
				opened(t, f, d.data, all[:n*width])
			}
		}
	}
}

// Where the header can no longer be written, the sound behind it counts for
// nothing and the error is told.
func TestKeptFileWithoutAHeader(t *testing.T) {
	f := Format{48000, 1, S16}
	d := &disk{room: math.MaxInt32}
	k, _ := newKeeper(d, f)
	all := ramp(f, 0, 100)
	k.Write(all[:100])
	broken := errors.New("input/output error")
	d.fail = func(at, n int) error {
		if at == 0 {
			return broken
		}
		return nil
	}
	if err := k.Write(all[100:]); !errors.Is(err, broken) {
		t.Errorf("Write = %v", err)
	}
	if err := k.Close(); err != nil {
		t.Fatal(err)
	}
	opened(t, f, d.data, all[:100])
}

// Beyond what 32 bits can state the header becomes the 64-bit one of EBU Tech
// 3306: "RF64", a size of -1, a chunk "ds64" with the sizes of everything behind
// the first 8 bytes, of the samples, and the number of frames. The limit is
// lowered here; the layout is the same.
func TestKeptFileBecomesLong(t *testing.T) {
	f := Format{48000, 2, S16}
	d := &disk{room: math.MaxInt32}
	k, _ := newKeeper(d, f)
	k.limit = 500
	all := ramp(f, 0, 300)
	for i := range 30 {
		if err := k.Write(all[i*40 : (i+1)*40]); err != nil {
			t.Fatal(err)
		}
		want := "RIFF"
		if len(d.data)-8 > 500 {
			want = "RF64"
		}
		if got := string(d.data[:4]); got != want {
			t.Fatalf("a file of %d bytes begins with %q, want %q", len(d.data), got, want)
		}
		opened64(t, f, d.data, all[:(i+1)*40])
	}
	k.Close()
	le := binary.LittleEndian
	if string(d.data[12:16]) != "ds64" || le.Uint32(d.data[4:]) != math.MaxUint32 {
		t.Errorf("the header is % x", d.data[:48])
	}
	for i, want := range []uint64{uint64(len(d.data) - 8), 1200, 300} {
		if got := le.Uint64(d.data[20+8*i:]); got != want {
			t.Errorf("size %d of ds64 = %d, want %d", i, got, want)
		}
	}
}

func opened64(t *testing.T, f Format, data, frames []byte) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "long.wav")
	os.WriteFile(path, data, 0o666)
	rec, err := tacho.Open(path)
	if err != nil || rec.Frames != len(frames)/f.frameBytes() || len(rec.Warnings) > 0 {
		t.Fatalf("%d bytes: %v, %v, %q", len(data), rec, err, rec.Warnings)
	}
}

func TestNothingIsOverwritten(t *testing.T) {
	path := filepath.Join(t.TempDir(), "trial.wav")
	if err := os.WriteFile(path, []byte("mine"), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := createKept(path, Format{48000, 1, S16}); !errors.Is(err, fs.ErrExist) {
		t.Errorf("createKept on a file that is there = %v", err)
	}
	if text, _ := os.ReadFile(path); string(text) != "mine" {
		t.Errorf("the file now holds %q", text)
	}
	if _, err := createKept(filepath.Join(path, "no folder", "trial.wav"), Format{48000, 1, S16}); err == nil {
		t.Error("createKept in a folder that is none gave no error")
	}
}
