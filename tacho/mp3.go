package tacho

import (
	"bufio"
	"bytes"
	"fmt"
	"io"

	"github.com/hajimehoshi/go-mp3"
)

// decodeMP3 decodes MPEG audio of layer III.
//
// The frames are found here, so that tags and damage between them are noticed
// and nothing but whole frames reaches the decoder, which looks for the next
// two bytes that might be a header and would take memory as a tag asks for it.
func decodeMP3(in *encoded) (*decoded, error) {
	survey, err := surveyMP3(in)
	if err != nil {
		return nil, err
	}
	out := &decoded{codec: "MP3", spool: newSpool(), warnings: survey.warnings}
	out.wavFormat = wavFormat{rate: uint32(survey.first.rate), channels: 2, bits: 16, bytes: 2}
	if survey.mono {
		out.channels = 1
	}
	feed := &mp3Feed{frames: in.mp3Frames(), skip: survey.info}
	err = in.guard(func() error { return survey.decode(in, feed, out) })
	if err != nil {
		return in.salvage(out, err, feed.frames.at)
	}
	return out, nil
}

// mp3Survey is what a walk along all frames tells before any is decoded.
type mp3Survey struct {
	first    mpegHeader
	mono     bool // every frame is
	info     bool // the first frame holds figures about the file and no sound
	frames   int  // with sound
	lead     int  // samples that encoder and decoder put in front of the sound
	tail     int  // samples behind it that fill up the last frame
	warnings []string
}

func surveyMP3(in *encoded) (*mp3Survey, error) {
	s := &mp3Survey{mono: true}
	frames := in.mp3Frames()
	for n := 0; ; n++ {
		if n%1024 == 0 && in.ctx.Err() != nil {
			return nil, in.ctx.Err()
		}
		frame, h, err := frames.next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
		if n == 0 {
			s.first = h
			if s.readInfo(frame, h); s.info {
				continue
			}
		}
		if !decodableMP3(h) {
			return nil, in.fail(ErrUnsupported, frames.at-int64(h.length), fmt.Sprintf("MP3 at %d Hz and %d kbit/s of a kind that is not decoded here", h.rate, h.bitrate/1000), "")
		}
		s.frames++
		s.mono = s.mono && h.mono
	}
	s.warnings = frames.warnings
	if s.frames == 0 {
		return nil, in.fail(ErrNoSamples, in.start, "no whole frame of MP3 in it", "record again")
	}
	if s.lead+s.tail >= s.frames*s.first.frames() {
		s.lead, s.tail = 0, 0
	}
	return s, nil
}

// decodableMP3 reports whether the decoder can be given a frame with header h.
// Version 0.3.4 does not know MPEG 2.5, and takes padded frames of MPEG 2 for
// one byte too short where 144 bitrate/rate rounds down to an even number.
func decodableMP3(h mpegHeader) bool {
	size := 144 * h.bitrate / h.rate
	return h.version == mpeg1 || h.version == mpeg2 && (!h.padded || size%2 == 1)
}

// readInfo recognises a first frame without sound, which many encoders write,
// and reads from it how much silence they added (the layout is common practice).
func (s *mp3Survey) readInfo(frame []byte, h mpegHeader) {
	const header, version, delays, decoderDelay = 4, 120, 141, 528 + 1
	at := header + h.sideInfo()
	if len(frame) < at+4 {
		return
	}
	tag := frame[at:]
	if name := string(tag[:4]); name != "Xing" && name != "Info" {
		return
	}
	s.info = true
	if len(tag) < delays+3 {
		return
	}
	switch string(tag[version : version+4]) {
	case "LAME", "Lavf", "Lavc":
		d := tag[delays:]
		s.lead = (int(d[0])<<4 | int(d[1])>>4) + decoderDelay
		s.tail = max(0, (int(d[1])&15<<8|int(d[2]))-decoderDelay)
	}
}

// decode decodes all frames and keeps the samples between lead and tail.
func (s *mp3Survey) decode(in *encoded, feed *mp3Feed, out *decoded) error {
	dec, err := mp3.NewDecoder(feed)
	if err != nil {
		return err
	}
	const frame = 4 // two channels of two bytes, always
	left := s.frames*s.first.frames() - s.lead - s.tail
	skip := s.lead
	buf := make([]byte, 1152*frame)
	for left > 0 {
		n, err := io.ReadFull(dec, buf)
		block := buf[:n-n%frame]
		cut := min(skip, len(block)/frame)
		block, skip = block[cut*frame:], skip-cut
		block = block[:min(len(block), left*frame)]
		left -= len(block) / frame
		if s.mono {
			for i := 0; i < len(block)/frame; i++ {
				copy(block[2*i:], block[frame*i:frame*i+2])
			}
			block = block[:len(block)/2]
		}
		if _, err := out.spool.Write(block); err != nil {
			return err
		}
		if err == io.EOF || err == io.ErrUnexpectedEOF {
			return feed.err
		}
		if err != nil {
			return err
		}
		if err := in.reached(feed.frames.at); err != nil {
			return err
		}
	}
	return nil
}

// mp3Frames walks along the frames of an MP3 file.
type mp3Frames struct {
	in       *encoded
	r        *bufio.Reader
	at       int64 // offset of what r reads next
	last     mpegHeader
	any      bool // there was a frame
	warnings []string
}

func (in *encoded) mp3Frames() *mp3Frames {
	return &mp3Frames{in: in, at: in.start, r: bufio.NewReaderSize(in.section(), 1<<16)}
}

// next returns the next whole frame, which is valid until the call after, or
// io.EOF.
func (f *mp3Frames) next() (frame []byte, h mpegHeader, err error) {
	skipped := f.at
	for {
		b, err := f.r.Peek(4)
		if err == io.EOF {
			f.warnSkipped(skipped, f.in.size)
			return nil, h, io.EOF
		}
		if err != nil {
			return nil, h, err
		}
		h, ok := parseMPEGHeader(b)
		if ok && h.layer == 3 && (!f.any || h.follows(f.last)) {
			b, err = f.r.Peek(h.length + 4)
			if len(b) >= h.length && f.believable(h, b[h.length:], f.at == skipped) {
				f.warnSkipped(skipped, f.at)
				f.r.Discard(h.length)
				f.at += int64(h.length)
				f.last, f.any = h, true
				return b[:h.length], h, nil
			}
			if len(b) < h.length && err == io.EOF && f.at == skipped {
				f.warn("the last frame of MP3, at byte %d, is cut short and left out", f.at)
				return nil, h, io.EOF
			}
		}
		f.r.Discard(1)
		f.at++
	}
}

// believable reports whether a header is one and not chance: where it does not
// stand right behind a frame, another must follow its own.
func (f *mp3Frames) believable(h mpegHeader, behind []byte, inStep bool) bool {
	if inStep && f.any || len(behind) < 4 {
		return true
	}
	next, ok := parseMPEGHeader(behind)
	return ok && next.follows(h)
}

// warnSkipped tells of bytes between frames, unless they are zeros at the
// beginning or a tag at the end.
func (f *mp3Frames) warnSkipped(from, to int64) {
	if to <= from || !f.any {
		return
	}
	head := make([]byte, min(16, to-from))
	f.in.r.ReadAt(head, from)
	if to == f.in.size {
		for _, tag := range []string{"TAG", "APETAGEX", "LYRICSBEGIN", "ID3", "\x00"} {
			if bytes.HasPrefix(head, []byte(tag)) {
				return
			}
		}
	}
	f.warn("%d bytes at byte %d are no frame of MP3 and are left out: sound may be missing there", to-from, from)
}

// warn keeps the first few warnings: a damaged file can give any number.
func (f *mp3Frames) warn(format string, args ...any) {
	const enough = 8
	switch {
	case len(f.warnings) < enough:
		f.warnings = append(f.warnings, fmt.Sprintf(format, args...))
	case len(f.warnings) == enough:
		f.warnings = append(f.warnings, "and there is more damage of this kind")
	}
}

// mp3Feed gives the decoder the frames, one behind the other.
type mp3Feed struct {
	frames *mp3Frames
	rest   []byte
	skip   bool // the first frame
	err    error
}

func (f *mp3Feed) Read(p []byte) (int, error) {
	for len(f.rest) == 0 {
		frame, _, err := f.frames.next()
		if err != nil {
			if err != io.EOF {
				f.err = err
			}
			return 0, err
		}
		if f.skip {
			f.skip = false
			continue
		}
		f.rest = frame
	}
	n := copy(p, f.rest)
	f.rest = f.rest[n:]
	return n, nil
}
