package tacho

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"os"
	"runtime"
)

// maxDecoded bounds what a compressed file may unpack to, in bytes: more than
// twelve hours of stereo at 48 kHz. A few bytes can promise any amount of sound.
const maxDecoded = 16 << 30

// errTooLong says that a file unpacks to more than maxDecoded.
var errTooLong = fmt.Errorf("it unpacks to more than %d GiB of sound", maxDecoded>>30)

// spool keeps decoded samples: in memory while they are few, and in a temporary
// file once they are more than inMemory bytes.
type spool struct {
	memory bytes.Buffer
	file   *temporaryFile
	buffer *bufio.Writer // in front of file
	size   int64
	limit  int64
}

func newSpool() *spool { return &spool{limit: maxDecoded} }

func (s *spool) Write(p []byte) (int, error) {
	if s.size+int64(len(p)) > s.limit {
		return 0, errTooLong
	}
	if s.file == nil && s.size+int64(len(p)) > inMemory {
		if err := s.spill(); err != nil {
			return 0, err
		}
	}
	s.size += int64(len(p))
	if s.file != nil {
		n, err := s.buffer.Write(p)
		return n, adviseSpace(err)
	}
	if need := s.memory.Len() + len(p); need > s.memory.Cap() && need > inMemory/4 {
		// room for all there may be, at once: growing by doubling would take
		// three times as much
		all := bytes.NewBuffer(make([]byte, 0, inMemory))
		all.Write(s.memory.Bytes())
		s.memory = *all
	}
	return s.memory.Write(p)
}

// spill moves what is in memory to a temporary file.
func (s *spool) spill() error {
	f, err := newTemporaryFile()
	if err != nil {
		return err
	}
	s.file, s.buffer = f, bufio.NewWriterSize(f, 1<<18)
	if _, err := s.buffer.Write(s.memory.Bytes()); err != nil {
		return adviseSpace(err)
	}
	s.memory = bytes.Buffer{}
	return nil
}

// temporaryFile is a file without a name: nobody else sees it, and it goes when
// it is no longer used.
type temporaryFile struct{ *os.File }

func newTemporaryFile() (*temporaryFile, error) {
	f, err := os.CreateTemp("", "rotorhum-*.samples")
	if err != nil {
		return nil, adviseSpace(err)
	}
	t := &temporaryFile{f}
	if os.Remove(f.Name()) != nil { // some systems do not remove a file in use
		runtime.AddCleanup(t, func(f *os.File) { f.Close(); os.Remove(f.Name()) }, f)
	}
	return t, nil
}

func adviseSpace(err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("no room for the decoded sound in %s (set TMPDIR to a folder with more): %w", os.TempDir(), err)
}

// content returns what was written. Nothing may be written afterwards.
func (s *spool) content() (io.ReaderAt, error) {
	if s.file == nil {
		return bytes.NewReader(s.memory.Bytes()), nil
	}
	if err := s.buffer.Flush(); err != nil {
		return nil, adviseSpace(err)
	}
	return s.file, nil
}

// discard gives the memory and the file back early, after an error.
func (s *spool) discard() {
	s.memory = bytes.Buffer{}
	if s.file != nil {
		s.file.Close()
	}
}
