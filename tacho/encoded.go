package tacho

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
)

// encoded is a file as it was found, before any sample is decoded.
type encoded struct {
	r        io.ReaderAt
	size     int64
	start    int64  // where it begins behind ID3 tags
	name     string // for messages
	path     string // where it lies on disk; empty if it does not
	ctx      context.Context
	progress func(done float64)
}

// section returns a reader of the file from start on.
func (in *encoded) section() *io.SectionReader {
	return io.NewSectionReader(in.r, in.start, in.size-in.start)
}

// fail returns what is wrong with the file at an offset.
func (in *encoded) fail(kind error, offset int64, problem, advice string) error {
	return &FileError{File: in.name, Offset: offset, Kind: kind, Problem: problem, Advice: advice}
}

// reached tells that the file is read up to an offset. It returns an error when
// the reading was called off.
func (in *encoded) reached(offset int64) error {
	in.progress(decodeShare * float64(offset) / float64(in.size))
	return in.ctx.Err()
}

// decodeShare is how much of the way decoding counts for; the rest is the walk
// over the samples that measures their level.
const decodeShare = 0.8

// guard runs a decoder of others and makes errors of its panics: what a hostile
// file does to it must not reach the caller.
func (in *encoded) guard(decode func() error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("it breaks the rules of its kind (%v)", p)
		}
	}()
	return decode()
}

// decoded is the sound of a compressed file.
type decoded struct {
	wavFormat // of the samples in spool
	codec     string
	spool     *spool
	at        int64 // offset of the first sample in spool
	warnings  []string
}

func (d *decoded) warn(format string, args ...any) {
	d.warnings = append(d.warnings, fmt.Sprintf(format, args...))
}

// salvage decides about a file whose decoding failed at an offset: what was
// decoded before is kept with a warning, unless it is nothing, or the fault is
// none of the file's.
func (in *encoded) salvage(out *decoded, fault error, at int64) (*decoded, error) {
	var file *FileError
	var system *fs.PathError
	switch {
	case in.ctx.Err() != nil:
		out.spool.discard()
		return nil, in.ctx.Err()
	case errors.As(fault, &file):
		out.spool.discard()
		return nil, fault
	case errors.Is(fault, errTooLong):
		out.spool.discard()
		return nil, in.fail(ErrUnsupported, at, fault.Error(), "cut the file into pieces")
	case errors.As(fault, &system):
		out.spool.discard()
		return nil, fmt.Errorf("%s: %w", in.name, fault)
	case errors.Is(fault, io.EOF) || errors.Is(fault, io.ErrUnexpectedEOF):
		fault = errors.New("the file ends in the middle of it")
	}
	if out.channels == 0 || out.spool.size < out.frameBytes() {
		out.spool.discard()
		return nil, in.fail(ErrDamaged, at, "it cannot be decoded: "+fault.Error(), adviceAgain)
	}
	seconds := float64(out.spool.size/out.frameBytes()) / float64(out.rate)
	out.warn("damaged at byte %d, after %s s of sound: %v; what comes behind is not read", at, formatSig(seconds, 6), fault)
	return out, nil
}

// recording makes a recording of decoded sound.
func (in *encoded) recording(d *decoded) (*Recording, error) {
	content, err := d.spool.content()
	if err != nil {
		return nil, err
	}
	frames := (d.spool.size - d.at) / d.frameBytes()
	if frames == 0 {
		d.spool.discard()
		return nil, in.fail(ErrNoSamples, in.start, "there is no sound in it", "record again")
	}
	data := &waveData{r: content, wavFormat: d.wavFormat, offset: d.at, decoded: true}
	return &Recording{Name: in.name, Rate: float64(d.rate), Channels: d.channels, Frames: int(frames), Codec: d.codec,
		Warnings: d.warnings, src: data}, nil
}

// hash returns, once it is known, the SHA-256 of the whole file.
func (in *encoded) hash() <-chan hashed {
	out := make(chan hashed, 1)
	go func() {
		sum := sha256.New()
		n, err := io.Copy(sum, &stoppable{in.ctx, io.NewSectionReader(in.r, 0, in.size)})
		if err == nil && n < in.size {
			err = io.ErrUnexpectedEOF
		}
		if err != nil {
			err = fmt.Errorf("%s: %w", in.name, err)
		}
		out <- hashed{hex.EncodeToString(sum.Sum(nil)), err}
	}()
	return out
}

type hashed struct {
	sum string
	err error
}

// stoppable is a reader that fails once a context has ended.
type stoppable struct {
	ctx context.Context
	r   io.Reader
}

func (s *stoppable) Read(p []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.r.Read(p)
}
