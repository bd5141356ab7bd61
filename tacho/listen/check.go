package listen

import (
	"os"
	"path/filepath"

	"rotorhum/tacho/listen/live"
)

// CheckSeconds is how long [Check] listens if nothing else is said.
const CheckSeconds = 5.0

// Check listens for a few seconds before a trial, for Settings.Seconds or
// CheckSeconds, and says what to change. Nothing is kept.
//
// It returns the errors of [Listen].
func Check(s Settings) (*live.Setup, error) {
	folder, err := os.MkdirTemp("", "check")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(folder)
	if s.Seconds == 0 {
		s.Seconds = CheckSeconds
	}
	s.Live = true
	heard, err := Listen(filepath.Join(folder, "room.wav"), s)
	if err != nil {
		return nil, err
	}
	if s, err = s.normal(); err != nil {
		return nil, err
	}
	return live.Check(heard.Recording, s.Options)
}
