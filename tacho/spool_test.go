package tacho

import (
	"bytes"
	"context"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
)

// More than inMemory bytes go to a file without a name and come back as they
// were; no trace is left in the folder for temporary files.
func TestSpoolSpills(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("TMPDIR", dir)
	s := newSpool()
	src := rand.New(rand.NewPCG(1, 2))
	piece := make([]byte, 1<<20)
	for range inMemory>>20 + 3 {
		for i := range piece {
			piece[i] = byte(src.Uint32())
		}
		if _, err := s.Write(piece); err != nil {
			t.Fatal(err)
		}
	}
	if s.file == nil || s.memory.Cap() > 0 {
		t.Errorf("%d bytes are held in memory", s.memory.Cap())
	}
	content, err := s.content()
	if err != nil {
		t.Fatal(err)
	}
	last := make([]byte, len(piece))
	if n, err := content.ReadAt(last, s.size-int64(len(piece))); n < len(piece) || !bytes.Equal(last, piece) {
		t.Errorf("the last piece reads as %d other bytes, %v", n, err)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	s.discard()
}

// A file that promises too much, a folder without room, and a reader that was
// called off.
func TestSpoolRefuses(t *testing.T) {
	s := newSpool()
	s.limit = 10
	if _, err := s.Write(make([]byte, 11)); !errors.Is(err, errTooLong) {
		t.Errorf("11 bytes of at most 10: %v", err)
	}
	t.Setenv("TMPDIR", filepath.Join(t.TempDir(), "missing"))
	s = newSpool()
	if _, err := s.Write(make([]byte, inMemory+1)); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("no folder for temporary files: %v", err)
	}
}

func TestOpenWith(t *testing.T) {
	for _, name := range []string{"stereo24.flac", "plain.mp3", "mono.ogg", "long.wav"} {
		path := filepath.Join("testdata", "odd", name)
		last, calls := 0.0, 0
		if _, err := OpenWith(path, Watch{Progress: func(done float64) {
			if done < last || done > 1 {
				t.Errorf("%s: progress %v after %v", name, done, last)
			}
			last = done
			calls++
		}}); err != nil || last != 1 || calls < 2 {
			t.Errorf("%s: %v; %d calls, the last with %v", name, err, calls, last)
		}
		ctx, cancel := context.WithCancel(context.Background())
		cancel()
		if rec, err := OpenWith(path, Watch{Context: ctx}); !errors.Is(err, context.Canceled) {
			t.Errorf("%s: called off, and gives %v, %v", name, rec, err)
		}
	}
}
