package tacho

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// The odd files in testdata/odd are pieces of our own siren disc, coded by
// ffmpeg 5.1 and then damaged on purpose: what becomes of each without ffmpeg.
var oddFiles = map[string]struct {
	kind     error // nil if it is read
	says     string
	channels int
	frames   int // 0: not stated
}{
	"mono16.flac":              {nil, "", 1, 1920},
	"stereo24.flac":            {nil, "", 2, 3528},
	"cut.flac":                 {nil, "damaged at byte 10138, after 0.072 s of sound: the file ends in the middle", 1, 1152},
	"flipped.flac":             {nil, "damaged at byte 10138, after 0.072 s of sound: frame.Frame.Parse: CRC-16", 1, 1152},
	"id3-before.flac":          {nil, "", 1, 1920},
	"wrong-checksum.flac":      {nil, "checksum", 1, 1920},
	"only-head.flac":           {ErrDamaged, "at byte 42: damaged file: it cannot be decoded: the file ends in the middle", 0, 0},
	"info.mp3":                 {nil, "", 1, 6615},
	"id3.mp3":                  {nil, "", 1, 4410},
	"plain.mp3":                {nil, "", 2, 7 * 1152},
	"padded.mp3":               {ErrUnsupported, "at byte 124: kind of file not supported: MP3 at 22050 Hz and 32 kbit/s of a kind that is not decoded here; the program ffmpeg", 0, 0},
	"cut.mp3":                  {nil, "at byte 1881, is cut short", 2, 6 * 1152},
	"junk-inside.mp3":          {nil, "360 bytes at byte 1254 are no frame of MP3", 2, 0},
	"tag-behind.mp3":           {nil, "", 2, 7 * 1152},
	"tag-of-256-megabytes.mp3": {ErrNotSound, "ID3", 0, 0},
	"mono.ogg":                 {nil, "", 1, 3308},
	"stereo.ogg":               {nil, "", 2, 4410},
	"flipped.ogg":              {ErrDamaged, "at byte 3361: damaged file: it cannot be decoded: the checksum", 0, 0},
	"cut.ogg":                  {ErrDamaged, "at byte 3361: damaged file: it cannot be decoded: the file ends", 0, 0},
	"two-streams.ogg":          {nil, "another recording begins at byte 4235", 1, 3308},
	"long.wav":                 {nil, "", 1, 400},
	"adpcm.wav":                {ErrUnsupported, "at byte 12: kind of file not supported: the samples are coded in format 0x0002 (Microsoft ADPCM)", 0, 0},
	"list.m3u8":                {ErrNotSound, "playlist", 0, 0},
	"concat.txt":               {ErrNotSound, "playlist", 0, 0},
}

func TestOddFiles(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	paths, err := filepath.Glob("testdata/odd/*.*")
	if err != nil || len(paths) != len(oddFiles) {
		t.Errorf("%d files in testdata/odd (%v), %d expected", len(paths), err, len(oddFiles))
	}
	for _, path := range paths {
		want, known := oddFiles[filepath.Base(path)]
		if !known {
			t.Errorf("%s: nobody says what is to become of it", path)
			continue
		}
		rec, err := Open(path)
		if want.kind != nil {
			var file *FileError
			if !errors.Is(err, want.kind) || !errors.As(err, &file) || !strings.Contains(err.Error(), want.says) || file.Advice == "" {
				t.Errorf("%s: %v, %v, want %q with %q and an advice", path, rec, err, want.kind, want.says)
			}
			continue
		}
		if err != nil {
			t.Error(err)
			continue
		}
		warned := strings.Join(rec.Warnings, "; ")
		if rec.Channels != want.channels || want.frames > 0 && rec.Frames != want.frames ||
			!strings.Contains(warned, want.says) || (want.says == "") != (warned == "") {
			t.Errorf("%s: %d channels, %d frames, warnings %q; want %d, %d, %q", path, rec.Channels, rec.Frames, warned, want.channels, want.frames, want.says)
		}
	}
}

// FuzzRead feeds the readers of all kinds of file anything: no panic, errors of
// a known kind that say what to do, and never more memory than is stated.
// Where ffmpeg would be asked there is none.
func FuzzRead(f *testing.F) {
	paths, _ := filepath.Glob("testdata/odd/*.*")
	for _, path := range paths {
		data, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Setenv("PATH", f.TempDir())
	f.Fuzz(func(t *testing.T, file []byte) {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		rec, err := Read(bytes.NewReader(file), int64(len(file)), "fuzz")
		runtime.ReadMemStats(&after)
		if err != nil {
			var fe *FileError
			if !errors.As(err, &fe) || fe.Kind == nil || fe.Problem == "" || fe.Advice == "" || fe.Offset > int64(len(file)) {
				t.Fatalf("error %T %v does not say enough", err, err)
			}
			return
		}
		if rec.Frames < 1 || rec.Channels < 1 || !(rec.Rate > 0) {
			t.Fatalf("%d bytes read as %+v", len(file), rec)
		}
		if held := int64(after.HeapInuse) - int64(before.HeapInuse); held > 4*inMemory {
			t.Fatalf("%d bytes hold %d of memory", len(file), held)
		}
		last := make([]float64, 1)
		if n, err := rec.Block(rec.Channels-1, rec.Frames-1, last); n != 1 || err != nil {
			t.Fatalf("the last sample: %d, %v", n, err)
		}
	})
}
