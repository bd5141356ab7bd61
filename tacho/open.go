package tacho

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
)

// inMemory is the most sound, in bytes as it is stored, that is kept in memory.
const inMemory = 32 << 20

// Open reads the recording in a file. Its kind is told by its content, not by
// its name:
//
//   - WAV (also of more than 4 GB), FLAC, MP3 and Ogg Vorbis are read here;
//   - what phones and cameras make (M4A, MP4, MOV, 3GP, AAC, AMR, Opus, WebM,
//     AIFF and others) is decoded by the program ffmpeg, if there is one on the
//     PATH; of a video, the first sound track is read.
//
// The file is checked once from end to end. What is compressed is decoded once;
// up to 32 MiB of samples stay in memory, more go to a temporary file that
// vanishes with the Recording. A WAV file of more than 32 MiB is read again
// whenever samples are asked for: it stays open as long as the Recording is in
// use and must not be changed meanwhile. So, whatever a file claims, reading it
// takes memory for the file and for its samples, 32 MiB of each at most, and some
// MiB for the work.
//
// Errors are of type *[FileError] and of kind ErrNotSound, ErrDamaged,
// ErrUnsupported, ErrNoSamples or ErrNotFinite, or come from the file system.
func Open(path string) (*Recording, error) { return OpenWith(path, Watch{}) }

// OpenWith is [Open] for a long file: it can show its progress and be stopped.
func OpenWith(path string, w Watch) (*Recording, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, missing(path, err)
	}
	rec, keep, err := openFile(f, path, w)
	if !keep {
		f.Close()
	}
	return rec, err
}

// openFile reads the recording in f, and reports whether it goes on reading f.
func openFile(f *os.File, name string, w Watch) (rec *Recording, keep bool, err error) {
	info, err := f.Stat()
	if err != nil {
		return nil, false, err
	}
	if !info.Mode().IsRegular() {
		what := "it is not a regular file"
		if info.IsDir() {
			what = "it is a folder"
		}
		return nil, false, &FileError{File: name, Offset: -1, Kind: ErrNotSound, Problem: what, Advice: "give the name of a sound file"}
	}
	path, err := filepath.Abs(name)
	if err != nil {
		return nil, false, err
	}
	in := newEncoded(f, info.Size(), name, w)
	in.path = path
	if in.size <= inMemory {
		data := make([]byte, in.size)
		if n, err := f.ReadAt(data, 0); n < len(data) {
			return nil, false, fmt.Errorf("%s: the file shrank while it was read: %w", name, err)
		}
		in.r = bytes.NewReader(data)
	}
	rec, err = in.read()
	return rec, err == nil && rec.src.(*waveData).r == in.r, err
}

// Read reads a recording from the first size bytes of r, which must not change
// as long as the Recording is used; name is what it is to be called. It knows
// the same kinds of file as [Open], and returns the same errors.
func Read(r io.ReaderAt, size int64, name string) (*Recording, error) {
	return newEncoded(r, size, name, Watch{}).read()
}

func newEncoded(r io.ReaderAt, size int64, name string, w Watch) *encoded {
	in := &encoded{r: r, size: size, name: name, ctx: w.Context, progress: w.Progress}
	if in.ctx == nil {
		in.ctx = context.Background()
	}
	if in.progress == nil {
		in.progress = func(float64) {}
	}
	return in
}

// read makes a recording of the file, whatever its kind.
func (in *encoded) read() (*Recording, error) {
	sum := in.hash()
	rec, err := in.samples()
	if err == nil {
		done := decodeShare
		if !rec.src.(*waveData).decoded {
			done = 0
		}
		err = rec.measureLevels(in.ctx, func(share float64) { in.progress(done + share*(1-done)) })
	}
	if err != nil {
		return nil, err
	}
	hash := <-sum
	if hash.err != nil {
		return nil, hash.err
	}
	rec.SHA256 = hash.sum
	in.progress(1)
	return rec, nil
}

// samples finds the samples in the file, or decodes them.
func (in *encoded) samples() (*Recording, error) {
	kind, err := in.detect()
	if err != nil {
		return nil, err
	}
	var rec *Recording
	switch {
	case kind.refusal != "":
		return nil, in.fail(cmp.Or(kind.kind, ErrNotSound), in.start, "this is "+kind.what, kind.refusal)
	case kind.wav:
		rec, err = in.readWAV()
	case kind.decode != nil:
		rec, err = in.decode(kind.decode)
	default:
		err = in.fail(ErrUnsupported, in.start, "this is "+kind.what, "")
	}
	var why *FileError
	if !errors.As(err, &why) || why.Kind != ErrUnsupported || why.Advice != "" {
		return rec, err
	}
	// A fault without advice is one that ffmpeg may not have.
	return in.decode(func(in *encoded) (*decoded, error) { return decodeWithFFmpeg(in, kind, why) })
}

// decode decodes the file and makes a recording of it.
func (in *encoded) decode(decoder func(*encoded) (*decoded, error)) (*Recording, error) {
	d, err := decoder(in)
	if err != nil {
		return nil, err
	}
	return in.recording(d)
}
