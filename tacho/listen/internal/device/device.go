// Package device captures sound from the system's microphones.
//
// Built with C, it speaks to the sound system itself (PulseAudio, ALSA,
// CoreAudio, WASAPI and others). Built without, it lets a recorder program of
// the system do that, parec or arecord, and takes over what that delivers.
package device

import (
	"errors"
	"fmt"
	"strings"
)

// Sink takes over what a device delivers. Its methods are called from one
// goroutine or thread of the device and must return at once.
type Sink interface {
	// Put takes whole frames; it must copy them.
	Put(frames []byte)
	// End says that no more will come: err says why.
	End(err error)
}

// Device is an open microphone.
type Device struct {
	// Name is what the system calls the device, and Through what the sound
	// comes through.
	Name, Through string
	// Rate is the sample rate in hertz.
	Rate int
	// Channels is the number of channels, Encoding that of the samples, in the
	// words of package listen.
	Channels int
	Encoding string

	begin func(Sink) error
	close func()
}

// Start begins to deliver sound to the sink.
func (d *Device) Start(s Sink) error { return d.begin(s) }

// Close ends the delivery. After it the sink is not called any more.
func (d *Device) Close() { d.close() }

// ErrNone says that there is no microphone, or none that can be used.
var ErrNone = errors.New("no microphone")

// ErrGone says that the microphone stopped delivering.
var ErrGone = errors.New("the microphone stopped: it was unplugged, or the sound system ended")

// choose returns the index of the named device. A name may be a part of the full
// one, in capitals or not, as long as it fits only one.
func choose(name string, all []string) (int, error) {
	var fits []int
	for i, n := range all {
		if n == name {
			return i, nil
		}
		if strings.Contains(strings.ToLower(n), strings.ToLower(name)) {
			fits = append(fits, i)
		}
	}
	switch {
	case len(fits) == 1:
		return fits[0], nil
	case len(all) == 0:
		return 0, fmt.Errorf("%w: the sound system knows no device to record from", ErrNone)
	case len(fits) == 0:
		return 0, fmt.Errorf("%w is called %q; there are: %s", ErrNone, name, strings.Join(all, "; "))
	}
	var names []string
	for _, i := range fits {
		names = append(names, all[i])
	}
	return 0, fmt.Errorf("%q could be several microphones, name one of them: %s", name, strings.Join(names, "; "))
}
