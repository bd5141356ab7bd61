package tacho

import (
	"errors"
	"fmt"
	"strings"
)

// The kinds of error that this package returns, to be told apart by errors.Is.
// The message of the error itself says what was found, where, and what to do.
var (
	// ErrNoReading says that no rotor can be claimed in the recording. The
	// reasons stand in the Track or the Measurement; record closer to the
	// rotor, or give the range in which its pulse rate must lie.
	ErrNoReading = errors.New("no reading: no rotor can be claimed in this recording")

	// ErrNotSound says that the file is of no kind that holds sound, as far as is
	// known here. Give a sound file or a video, or convert it.
	ErrNotSound = errors.New("not a sound file")

	// ErrDamaged says that the file claims to be what we read but breaks its
	// own rules so badly that no sample can be trusted. Copy or record it again.
	ErrDamaged = errors.New("damaged file")

	// ErrUnsupported says that the file is in order, but of a kind that this
	// package does not decode, or not without ffmpeg. Install that or convert the
	// file; the message says which.
	ErrUnsupported = errors.New("kind of file not supported")

	// ErrNoSamples says that there is no sound in the file: the recorder was
	// stopped before it wrote any. Record again.
	ErrNoSamples = errors.New("no samples")

	// ErrNotFinite says that a sample is not a number, infinite, or so large
	// that it can only be damage. Export the recording again.
	ErrNotFinite = errors.New("sample is not a usable number")

	// ErrTooShort says that there are fewer samples than the question needs.
	// Record for longer or ask for shorter blocks.
	ErrTooShort = errors.New("too short")

	// ErrOption says that an option or argument is out of its range; the
	// message names it and says what is allowed.
	ErrOption = errors.New("bad option")

	// ErrUnit says that a unit is unknown or that two units do not belong to
	// the same kind of quantity, such as metres and seconds.
	ErrUnit = errors.New("unit does not fit")

	// ErrPulses says that a rotor does not say how many sound pulses it makes in
	// one revolution. Count its blades, holes or teeth and set Rotor.Pulses.
	ErrPulses = errors.New("pulses per revolution must be at least 1")

	// ErrRadius says that a tip speed or a load was asked of a rotor whose
	// radius is not known. Measure from the axis to the tip and set Rotor.Radius.
	ErrRadius = errors.New("tip radius is not known")

	// ErrSyntax says that a text is not a value with a unit, or no note.
	ErrSyntax = errors.New("not a value")
)

// FileError says what is wrong with a file: which one, where in it, what was
// found, and what the user can do next. Its Kind is reachable by errors.Is.
type FileError struct {
	File    string // as the caller named it
	Chunk   string // the part of the file, such as "fmt " or "data"; may be empty
	Offset  int64  // of that part in bytes from the start; negative when unknown
	Problem string // what was found and what was expected
	Advice  string // what to do next
	Kind    error  // one of the sentinels above
}

// Error returns one line: file, place, problem, advice.
func (e *FileError) Error() string {
	var b strings.Builder
	b.WriteString(e.File)
	if e.Chunk != "" {
		fmt.Fprintf(&b, ": %q chunk", e.Chunk)
	}
	if e.Offset > 0 || e.Offset == 0 && e.Chunk != "" {
		if e.Chunk == "" {
			b.WriteString(":")
		}
		fmt.Fprintf(&b, " at byte %d", e.Offset)
	}
	fmt.Fprintf(&b, ": %v: %s", e.Kind, e.Problem)
	if e.Advice != "" {
		fmt.Fprintf(&b, "; %s", e.Advice)
	}
	return b.String()
}

// Unwrap returns the kind.
func (e *FileError) Unwrap() error { return e.Kind }

// optionError returns an ErrOption that names what is wrong.
func optionError(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrOption, fmt.Sprintf(format, args...))
}
