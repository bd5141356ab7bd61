package tacho

import (
	"bufio"
	"bytes"
	"crypto/md5"
	"fmt"
	"io"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"
	"github.com/mewkiz/flac/meta"
)

// decodeFLAC decodes FLAC (RFC 9639). Every frame carries a checksum, and the
// whole file usually one of all samples: what disagrees is told.
func decodeFLAC(in *encoded) (*decoded, error) {
	section := &countingReader{r: in.section()}
	r := bufio.NewReaderSize(section, 1<<16)
	at := func() int64 { return in.start + section.n - int64(r.Buffered()) }
	f := &flacDecoder{in: in, at: at, out: &decoded{codec: "FLAC", spool: newSpool()}}
	err := in.guard(func() error {
		stream, err := flac.New(r)
		if err != nil {
			return err
		}
		return f.decode(stream)
	})
	if err != nil {
		if f.info == nil {
			f.frameAt = at()
		}
		return in.salvage(f.out, err, f.frameAt)
	}
	return f.out, nil
}

// countingReader counts what was read.
type countingReader struct {
	r io.Reader
	n int64
}

func (c *countingReader) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	c.n += int64(n)
	return n, err
}

// flacDecoder is the work on one file.
type flacDecoder struct {
	in      *encoded
	at      func() int64 // offset of what is read next
	frameAt int64        // offset of the frame in hand
	info    *meta.StreamInfo
	frames  uint64 // decoded so far
	out     *decoded
}

func (f *flacDecoder) decode(stream *flac.Stream) error {
	f.info = stream.Info
	f.frameAt = f.at()
	if f.info.SampleRate == 0 {
		return f.in.fail(ErrDamaged, f.in.start, "a sample rate of 0 Hz, which makes every frequency meaningless", adviceAgain)
	}
	f.out.wavFormat = wavFormat{rate: f.info.SampleRate, channels: int(f.info.NChannels), bits: int(f.info.BitsPerSample)}
	f.out.bytes = (f.out.bits + 7) / 8
	sum, checked := md5.New(), [md5.Size]byte{}
	var block, plain []byte
	for f.info.NSamples == 0 || f.frames < f.info.NSamples {
		f.frameAt = f.at()
		fr, err := stream.Next()
		if err == io.EOF {
			break
		}
		if err == nil {
			err = f.parse(fr)
		}
		if err != nil {
			return err
		}
		block = f.encode(block[:0], fr)
		if _, err := f.out.spool.Write(block); err != nil {
			return err
		}
		if f.info.MD5sum != checked {
			plain = f.plain(plain[:0], fr)
			sum.Write(plain)
		}
		f.frames += uint64(fr.BlockSize)
		if err := f.in.reached(f.at()); err != nil {
			return err
		}
	}
	switch {
	case f.frames < f.info.NSamples:
		f.out.warn("the header promises %d samples of each channel and the file holds %d: it is cut short", f.info.NSamples, f.frames)
	case f.info.MD5sum != checked && !bytes.Equal(sum.Sum(nil), f.info.MD5sum[:]):
		f.out.warn("the samples do not have the checksum that the file states: the file was damaged or badly made")
	}
	return nil
}

// parse decodes the samples of a frame whose header was read.
func (f *flacDecoder) parse(fr *frame.Frame) error {
	if fr.BitsPerSample == 0 {
		fr.BitsPerSample = f.info.BitsPerSample
	}
	if fr.BitsPerSample != f.info.BitsPerSample || fr.Channels.Count() != int(f.info.NChannels) ||
		fr.SampleRate != 0 && fr.SampleRate != f.info.SampleRate {
		return fmt.Errorf("it goes on with %d channels of %d bits at %d Hz after %d of %d at %d",
			fr.Channels.Count(), fr.BitsPerSample, fr.SampleRate, f.info.NChannels, f.info.BitsPerSample, f.info.SampleRate)
	}
	if err := fr.Parse(); err != nil {
		return err
	}
	for _, s := range fr.Subframes {
		if len(s.Samples) != int(fr.BlockSize) {
			return fmt.Errorf("a frame of %d samples holds %d", fr.BlockSize, len(s.Samples))
		}
	}
	return nil
}

// encode appends the samples as they stand in a WAV file: left-aligned in whole
// bytes, those of one byte without a sign.
func (f *flacDecoder) encode(dst []byte, fr *frame.Frame) []byte {
	shift, size := 8*f.out.bytes-f.out.bits, f.out.bytes
	for i := range int(fr.BlockSize) {
		for _, s := range fr.Subframes {
			v := s.Samples[i] << shift
			switch size {
			case 1:
				dst = append(dst, byte(v+128))
			case 2:
				dst = append(dst, byte(v), byte(v>>8))
			case 3:
				dst = append(dst, byte(v), byte(v>>8), byte(v>>16))
			default:
				dst = append(dst, byte(v), byte(v>>8), byte(v>>16), byte(v>>24))
			}
		}
	}
	return dst
}

// plain appends the samples as FLAC's checksum takes them: right-aligned, with
// their sign.
func (f *flacDecoder) plain(dst []byte, fr *frame.Frame) []byte {
	for i := range int(fr.BlockSize) {
		for _, s := range fr.Subframes {
			for b := range f.out.bytes {
				dst = append(dst, byte(s.Samples[i]>>(8*b)))
			}
		}
	}
	return dst
}
