package tacho

import (
	"errors"
	"io/fs"
	"testing"
)

func TestFileErrorText(t *testing.T) {
	for _, c := range []struct {
		err  FileError
		want string
	}{
		{FileError{File: "a.wav", Chunk: "fmt ", Offset: 12, Kind: ErrDamaged, Problem: "0 channels, expected at least 1", Advice: "record again"},
			`a.wav: "fmt " chunk at byte 12: damaged file: 0 channels, expected at least 1; record again`},
		{FileError{File: "a.wav", Offset: 0, Kind: ErrNotSound, Problem: "this is a FLAC file", Advice: "convert it"},
			"a.wav: not a sound file: this is a FLAC file; convert it"},
		{FileError{File: "a.wav", Offset: 72, Kind: ErrDamaged, Problem: "it ends here"}, "a.wav: at byte 72: damaged file: it ends here"},
		{FileError{File: "a.wav", Chunk: "data", Offset: -1, Kind: ErrNoSamples, Problem: "0 bytes"}, `a.wav: "data" chunk: no samples: 0 bytes`},
	} {
		if got := c.err.Error(); got != c.want {
			t.Errorf("%+v prints\n%s\nwant\n%s", c.err, got, c.want)
		}
		if !errors.Is(&c.err, c.err.Kind) || errors.Is(&c.err, fs.ErrNotExist) {
			t.Errorf("%v is not of the kind %v alone", &c.err, c.err.Kind)
		}
	}
}
