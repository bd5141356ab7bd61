package tacho

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
)

// adviceConvert is what to do with a file of a kind we do not decode.
const adviceConvert = "convert it to 16-bit PCM WAV, for example: ffmpeg -i IN -c:a pcm_s16le OUT.wav"

// adviceAgain is what to do with a damaged file.
const adviceAgain = "copy the file from the recorder again, or record again"

// readWAV finds the samples in a WAV file, with any number of channels at any
// rate, whose samples are integers of up to 32 bits or floating-point numbers
// of 32 or 64 bits, with a plain, an extensible or a 64-bit header and any other
// chunks around them. Integers are divided by 2 to the power (bits-1), after
// removing the centre 128 of samples of up to 8 bits; floating-point samples are
// taken as they are.
//
// Where the data is cut short or its stated size cannot be true, the whole
// frames that are there are read and a warning says so.
func (in *encoded) readWAV() (*Recording, error) {
	w, err := parseWAV(in.r, in.size, in.name)
	if err != nil {
		return nil, err
	}
	return &Recording{Name: in.name, Codec: "WAV", Rate: float64(w.rate), Channels: w.channels, Frames: w.frames,
		Warnings: w.warnings, src: &waveData{r: in.r, wavFormat: w.wavFormat, offset: w.dataAt}}, nil
}

// wavFormat is how the samples of a WAV file are laid out.
type wavFormat struct {
	rate     uint32
	channels int
	bits     int  // that carry the sample
	bytes    int  // of one sample
	float    bool // IEEE 754 numbers, else integers
}

// frameBytes returns the size of one sample of every channel.
func (f wavFormat) frameBytes() int64 { return int64(f.channels) * int64(f.bytes) }

// wavFile is a WAV file taken apart, before any sample is decoded.
type wavFile struct {
	wavFormat
	dataAt   int64 // offset of the first sample
	frames   int
	warnings []string
}

func (w *wavFile) warn(format string, args ...any) {
	w.warnings = append(w.warnings, fmt.Sprintf(format, args...))
}

// wavScan walks along the chunks of a WAV file.
type wavScan struct {
	r        io.ReaderAt
	size     int64
	name     string
	out      wavFile
	haveFmt  bool
	dataHead int64 // offset of the data chunk, 0 if none
	dataSize int64 // as it says
	longData int64 // size of the samples in a 64-bit file, 0 if not told
}

func (s *wavScan) fail(kind error, chunk string, offset int64, problem, advice string) error {
	return &FileError{File: s.name, Chunk: chunk, Offset: offset, Kind: kind, Problem: problem, Advice: advice}
}

// parseWAV finds format and samples. It reads no more than headers, and
// compares every size with the file before believing it.
func parseWAV(r io.ReaderAt, size int64, name string) (*wavFile, error) {
	s := &wavScan{r: r, size: size, name: name}
	if err := s.riffHeader(); err != nil {
		return nil, err
	}
	if err := s.chunks(); err != nil {
		return nil, err
	}
	switch {
	case !s.haveFmt:
		return nil, s.fail(ErrDamaged, "", 12, `no complete "fmt " chunk, which says how the samples are stored`, adviceAgain)
	case s.dataHead == 0:
		return nil, s.fail(ErrDamaged, "", size, `the file ends before any "data" chunk, which holds the samples`, adviceAgain)
	}
	if err := s.measureData(); err != nil {
		return nil, err
	}
	return &s.out, nil
}

// read fills b from offset on; it fails with io.EOF or io.ErrUnexpectedEOF
// where the file ends.
func (s *wavScan) read(b []byte, offset int64) error {
	if offset+int64(len(b)) > s.size {
		return io.ErrUnexpectedEOF
	}
	n, err := s.r.ReadAt(b, offset)
	if n == len(b) {
		return nil
	}
	if err == nil {
		err = io.ErrUnexpectedEOF
	}
	return fmt.Errorf("%s at byte %d: %w", s.name, offset, err)
}

func (s *wavScan) riffHeader() error {
	if s.size == 0 {
		return s.fail(ErrNoSamples, "", 0, "the file is empty", "record again")
	}
	head := make([]byte, min(s.size, 12))
	if err := s.read(head, 0); err != nil {
		return err
	}
	if kind, ok := kindOf(head); !ok || !kind.wav {
		return s.fail(ErrDamaged, "RIFF", 0, "no header of a WAV file", adviceAgain)
	}
	return nil
}

// maxChunks bounds the walk along a file of nothing but empty chunks.
const maxChunks = 4096

// chunks walks from chunk to chunk until format and data are both known.
func (s *wavScan) chunks() error {
	at := int64(12)
	for range maxChunks {
		var head [8]byte
		if at+8 > s.size {
			return nil
		}
		if err := s.read(head[:], at); err != nil {
			return err
		}
		if !isChunkID(head[:4]) {
			return s.fail(ErrDamaged, "", at, fmt.Sprintf("expected the four letters of a chunk, found %q", head[:4]), adviceAgain)
		}
		id, n := string(head[:4]), int64(binary.LittleEndian.Uint32(head[4:]))
		switch {
		case id == "fmt " && !s.haveFmt:
			if err := s.format(at, n); err != nil {
				return err
			}
		case id == "ds64":
			if err := s.longSize(at, n); err != nil {
				return err
			}
		case id == "data" && s.dataHead == 0:
			s.dataHead, s.dataSize = at, n
			if n == math.MaxUint32 && s.longData > 0 {
				s.dataSize = s.longData
			}
		}
		if s.haveFmt && s.dataHead != 0 {
			return nil
		}
		next, err := s.after(at+8, n)
		if err != nil {
			return err
		}
		at = next
	}
	return s.fail(ErrDamaged, "", at, fmt.Sprintf("%d chunks and no samples among them", maxChunks), adviceAgain)
}

// longSize reads the size of the samples from the "ds64" chunk at offset at,
// which files of more than 4 GB have (EBU Tech 3306, ITU-R BS.2088).
func (s *wavScan) longSize(at, n int64) error {
	const dataSize, least = 8, 16
	var content [least]byte
	if n < least {
		return s.fail(ErrDamaged, "ds64", at, fmt.Sprintf("%d bytes, expected at least %d", n, least), adviceAgain)
	}
	if s.read(content[:], at+8) != nil {
		return s.fail(ErrDamaged, "ds64", at, "the file ends inside it", adviceAgain)
	}
	if size := binary.LittleEndian.Uint64(content[dataSize:]); size <= math.MaxInt64 {
		s.longData = int64(size)
	}
	return nil
}

// after returns where the chunk behind n bytes of content at offset begins.
// Content of odd size is padded to an even one; some programs forget to.
func (s *wavScan) after(offset, n int64) (int64, error) {
	end := offset + n
	if n%2 == 0 {
		return end, nil
	}
	var id [5]byte
	if end+5 > s.size {
		return end + 1, nil
	}
	if err := s.read(id[:], end); err != nil {
		return 0, err
	}
	if isChunkID(id[:4]) && !isChunkID(id[1:]) {
		s.out.warn("the chunk that ends at byte %d has an odd size and no padding byte; read all the same", end)
		return end, nil
	}
	return end + 1, nil
}

// isChunkID reports whether b is four printable ASCII characters, which every
// chunk identifier is.
func isChunkID(b []byte) bool {
	for _, c := range b {
		if c < ' ' || c > '~' {
			return false
		}
	}
	return true
}

// measureData decides how many frames there are: what the data chunk says,
// bounded by what the file holds.
func (s *wavScan) measureData() error {
	w := &s.out
	w.dataAt = s.dataHead + 8
	there, frame := s.size-w.dataAt, w.frameBytes()
	n := s.dataSize
	const streamed = 0x7fff_f000 // and above: written by programs that could not know the size
	switch {
	case n > there && n >= streamed:
		w.warn("the header leaves the amount of sound open; all %d bytes up to the end of the file are read", there)
		n = there
	case n > there:
		w.warn("the header promises %d bytes of sound at byte %d and the file holds %d: it is cut short; the rest is read", n, w.dataAt, there)
		n = there
	case n == 0 && there >= frame && !s.startsChunk(w.dataAt):
		w.warn("the header says there is no sound, but %d bytes follow it: the recorder was not stopped properly; they are read as sound", there)
		n = there
	}
	if behind := there - n - n%2; behind > n/100 && behind >= 8 && !s.startsChunk(w.dataAt+n+n%2) {
		w.warn("%d bytes follow the sound and are not read: the size in the header may have overflowed", behind)
	}
	if rest := n % frame; rest != 0 {
		w.warn("the last %d bytes of sound are less than a frame of %d bytes and are left out", rest, frame)
	}
	frames := n / frame
	if frames == 0 {
		return s.fail(ErrNoSamples, "data", s.dataHead, fmt.Sprintf("%d bytes of sound, and one frame takes %d", n, frame), "record again")
	}
	if int64(int(frames)) != frames {
		return s.fail(ErrUnsupported, "data", s.dataHead, fmt.Sprintf("%d frames are more than this machine can count", frames), "cut the file into pieces")
	}
	w.frames = int(frames)
	return nil
}

// startsChunk reports whether a believable chunk header stands at offset.
func (s *wavScan) startsChunk(offset int64) bool {
	var head [8]byte
	if s.read(head[:], offset) != nil {
		return false
	}
	return isChunkID(head[:4]) && offset+8+int64(binary.LittleEndian.Uint32(head[4:])) <= s.size
}
