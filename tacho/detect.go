package tacho

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
)

// fileKind says how files of one kind are read: by a decoder of this package,
// by the program ffmpeg, or not at all.
type fileKind struct {
	what    string                           // it is, for messages: "a FLAC file"
	decode  func(*encoded) (*decoded, error) // our own way; nil if there is none
	wav     bool                             // the samples are read where they lie
	demuxer string                           // ffmpeg's name of the kind; "" if it is not to be asked
	refusal string                           // what to do instead, if there is no way
	kind    error                            // of error then; nil stands for ErrNotSound
}

// signature is how the beginning of a file gives its kind away.
type signature struct {
	at    int
	magic string
	kind  fileKind
}

// signatures are the kinds that a few bytes give away. The rest is in detect.
var signatures = []signature{
	{0, "fLaC", fileKind{what: "a FLAC file", decode: decodeFLAC, demuxer: "flac"}},
	{4, "ftyp", kindMOV}, {4, "moov", kindMOV}, {4, "mdat", kindMOV}, {4, "wide", kindMOV}, {4, "free", kindMOV}, {4, "skip", kindMOV},
	{0, "\x1a\x45\xdf\xa3", fileKind{what: "a Matroska or WebM file", demuxer: "matroska"}},
	{8, "AIFF", fileKind{what: "an AIFF file", demuxer: "aiff"}},
	{8, "AIFC", fileKind{what: "an AIFF file", demuxer: "aiff"}},
	{0, "caff", fileKind{what: "a Core Audio file", demuxer: "caf"}},
	{0, ".snd", fileKind{what: "an AU file", demuxer: "au"}},
	{0, "#!AMR", fileKind{what: "an AMR file", demuxer: "amr"}},
	{8, "AVI ", fileKind{what: "an AVI video", demuxer: "avi"}},
	{0, "RIFX", fileKind{what: "a big-endian WAV file (RIFX)", refusal: adviceConvert, kind: ErrUnsupported}}, // ffmpeg 5.1 reads these wrongly
	{0, "riff\x2e\x91\xcf\x11", fileKind{what: "a 64-bit WAV file (riff/wave with long identifiers)", demuxer: "w64"}},
	{0, "\x30\x26\xb2\x75\x8e\x66\xcf\x11", fileKind{what: "a Windows Media file", demuxer: "asf"}},
	{0, "\x00\x00\x01\xba", fileKind{what: "an MPEG video", demuxer: "mpeg"}},
	{0, "FLV\x01", fileKind{what: "a Flash video", demuxer: "flv"}},

	{0, "#EXTM3U", kindPlaylist}, {0, "ffconcat version", kindPlaylist}, {0, "[playlist]", kindPlaylist},
	{0, "MThd", fileKind{what: "a MIDI file, which holds notes and no sound", refusal: "give a recording of the sound"}},
	{0, "PK\x03\x04", kindArchive}, {0, "\x1f\x8b", kindArchive}, {0, "7z\xbc\xaf\x27\x1c", kindArchive},
	{0, "\x89PNG", kindPicture}, {0, "\xff\xd8\xff", kindPicture}, {0, "GIF8", kindPicture},
}

var (
	kindWAV      = fileKind{what: "a WAV file", wav: true, demuxer: "wav"}
	kindMOV      = fileKind{what: "an MPEG-4, QuickTime or 3GP file, as phones make", demuxer: "mov"}
	kindMP3      = fileKind{what: "an MP3 file", decode: decodeMP3, demuxer: "mp3"}
	kindMPEG     = fileKind{what: "an MPEG audio file of layer I or II", demuxer: "mp3"}
	kindAAC      = fileKind{what: "an AAC file", demuxer: "aac"}
	kindVorbis   = fileKind{what: "an Ogg Vorbis file", decode: decodeVorbis, demuxer: "ogg"}
	kindOgg      = fileKind{what: "an Ogg file with sound other than Vorbis", demuxer: "ogg"}
	kindTS       = fileKind{what: "an MPEG transport stream", demuxer: "mpegts"}
	kindPlaylist = fileKind{what: "a playlist, which names other files and holds no sound", refusal: "give one of the sound files themselves"}
	kindArchive  = fileKind{what: "a packed archive", refusal: "unpack it and give the sound file that is in it"}
	kindPicture  = fileKind{what: "a picture", refusal: "give a sound file or a video"}
)

// headBytes is how much of a file is looked at to tell its kind.
const headBytes = 4096

// detect tells the kind of the file by its content alone, and moves the start
// of the file behind any ID3 tags.
func (in *encoded) detect() (fileKind, error) {
	if in.size == 0 {
		return fileKind{}, in.fail(ErrNoSamples, 0, "the file is empty", "record again")
	}
	for {
		head, err := in.head()
		if err != nil {
			return fileKind{}, err
		}
		if n := id3Bytes(head); n > 0 && in.start+n < in.size {
			in.start += n
			continue
		}
		if kind, ok := kindOf(head); ok {
			return kind, nil
		}
		return in.unknown(head)
	}
}

// head returns the first bytes of the file from start on.
func (in *encoded) head() ([]byte, error) {
	head := make([]byte, min(headBytes, in.size-in.start))
	n, err := in.r.ReadAt(head, in.start)
	if n < len(head) {
		if err == nil || errors.Is(err, io.EOF) {
			err = io.ErrUnexpectedEOF
		}
		return nil, fmt.Errorf("%s at byte %d: %w", in.name, in.start+int64(n), err)
	}
	return head, nil
}

// id3Bytes returns the size of the ID3v2 tag at the beginning of head, which
// some programs put in front of a file; 0 if there is none.
func id3Bytes(head []byte) int64 {
	if len(head) < 10 || string(head[:3]) != "ID3" || head[3] == 0xff || (head[6]|head[7]|head[8]|head[9])&0x80 != 0 {
		return 0
	}
	n := int64(head[6])<<21 | int64(head[7])<<14 | int64(head[8])<<7 | int64(head[9])
	if head[5]&0x10 != 0 { // a footer of ten bytes
		n += 10
	}
	return n + 10
}

// kindOf returns the kind of a file that begins with head.
func kindOf(head []byte) (kind fileKind, ok bool) {
	has := func(at int, magic string) bool {
		return len(head) >= at && bytes.HasPrefix(head[at:], []byte(magic))
	}
	if (has(0, "RIFF") || has(0, "RF64") || has(0, "BW64")) && has(8, "WAVE") {
		return kindWAV, true
	}
	for _, s := range signatures {
		if has(s.at, s.magic) {
			return s.kind, true
		}
	}
	switch {
	case has(0, "OggS"):
		return oggKind(head), true
	case isTransportStream(head):
		return kindTS, true
	case len(head) >= 7 && head[0] == 0xff && head[1]&0xf6 == 0xf0: // ADTS: sync word, layer 0
		return kindAAC, true
	}
	return mpegKind(head)
}

// mpegKind recognises MPEG audio by two headers in a row that fit together, of
// which the second may lie behind what head shows. Zeros may stand before it.
func mpegKind(head []byte) (kind fileKind, ok bool) {
	head = bytes.TrimLeft(head, "\x00")
	h, ok := parseMPEGHeader(head)
	if !ok {
		return fileKind{}, false
	}
	if h.length < len(head) {
		if next, ok := parseMPEGHeader(head[h.length:]); len(head)-h.length >= 4 && (!ok || !next.follows(h)) {
			return fileKind{}, false
		}
	}
	if h.layer != 3 {
		return kindMPEG, true
	}
	return kindMP3, true
}

// isTransportStream looks for the sync byte at the head of several packets.
func isTransportStream(head []byte) bool {
	const packet = 188
	for i := range 4 {
		if len(head) <= i*packet || head[i*packet] != 'G' {
			return false
		}
	}
	return true
}

// oggKind tells Vorbis alone, which we decode, from all else in an Ogg file.
// The pages that begin the streams of a file stand at its beginning.
func oggKind(head []byte) fileKind {
	const flags, segments, fixed, first = 5, 26, 27, 2
	kind, streams := kindOgg, 0
	for len(head) > fixed && string(head[:4]) == "OggS" && head[flags]&first != 0 {
		body := fixed + int(head[segments])
		if len(head) < body {
			break
		}
		length := 0
		for _, s := range head[fixed:body] {
			length += int(s)
		}
		if streams++; bytes.HasPrefix(head[body:], []byte("\x01vorbis")) {
			kind = kindVorbis
		}
		head = head[min(body+length, len(head)):]
	}
	if streams != 1 {
		return kindOgg
	}
	return kind
}

// unknown is the answer for a file of no known kind.
func (in *encoded) unknown(head []byte) (fileKind, error) {
	const enough = 12
	if len(head) < enough && bytes.HasPrefix([]byte("RIFF"), head[:min(len(head), 4)]) {
		return fileKind{}, in.fail(ErrDamaged, 0, fmt.Sprintf("the file ends after %d bytes, inside its first header", len(head)), adviceAgain)
	}
	if len(head) >= enough && string(head[:4]) == "RIFF" {
		return fileKind{}, in.fail(ErrNotSound, 0, fmt.Sprintf("a RIFF file of kind %q, expected \"WAVE\"", head[8:enough]), adviceConvert)
	}
	head = head[:min(len(head), enough)]
	return fileKind{}, in.fail(ErrNotSound, in.start, fmt.Sprintf("it begins with %q, as no kind of sound or video file known here does", head), adviceConvert)
}

// le is the byte order of most of these files.
var le = binary.LittleEndian
