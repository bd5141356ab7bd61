package tacho

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Who mistypes a name is told the one that was probably meant.
func TestMissingFileAdvice(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"siren-disc-steady.wav", "card-wheel-run-up.wav", "notes.txt", "Take 1.m4a"} {
		if err := os.WriteFile(filepath.Join(dir, name), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, folder := range []string{"recordings", "empty"} {
		if err := os.Mkdir(filepath.Join(dir, folder), 0o700); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct{ name, want string }{
		{"siren-disc.wav", "the nearest name in that folder is siren-disc-steady.wav"},
		{"Siren_disc_steady.WAV", "the nearest name in that folder is siren-disc-steady.wav"},
		{"sirne-disc-steady", "the nearest name in that folder is siren-disc-steady.wav"},
		{"take1.m4a", "the nearest name in that folder is Take 1.m4a"},
		{"notes.wav", "the sound files in that folder are Take 1.m4a, card-wheel-run-up.wav, siren-disc-steady.wav"},
		{filepath.Join("empty", "a.wav"), "there is no sound file in that folder"},
		{filepath.Join("recording", "a.wav"), "there is no folder " + filepath.Join(dir, "recording") + ", but " + filepath.Join(dir, "recordings")},
		{filepath.Join("sounds", "new", "a.wav"), "there is no folder " + filepath.Join(dir, "sounds")},
	} {
		_, err := Open(filepath.Join(dir, c.name))
		if !errors.Is(err, fs.ErrNotExist) || !strings.HasSuffix(err.Error(), "; "+c.want) {
			t.Errorf("%s: got %v, want ; %s", c.name, err, c.want)
		}
	}
	if _, err := Open(""); err == nil || !strings.Contains(err.Error(), "give the name of a sound file") {
		t.Errorf("no name: %v", err)
	}
}
