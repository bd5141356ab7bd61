package listen

import (
	"errors"
	"fmt"
	"io"
	"sync/atomic"
	"time"

	"rotorhum/tacho"
	"rotorhum/tacho/listen/internal/device"
	"rotorhum/tacho/listen/internal/ring"
)

// Source is where sound comes from: [Microphone], [Raw], [WAV] or [Rehearse].
// It can be listened to once.
type Source struct {
	name      string
	open      func() (*stream, error)
	rehearsed *tacho.Recording // nil for all but Rehearse
	used      atomic.Bool
}

// String says in words what the source is.
func (s *Source) String() string { return s.name }

// stream is an opened source.
type stream struct {
	name   string
	format Format
	// Reader delivers the frames. Read may be ended by shut from another
	// goroutine.
	io.Reader
	shut func()
	// lost returns how many frames the source has lost so far; silence stands in
	// their place.
	lost func() int64
	// waits says that the source loses nothing by waiting.
	waits bool
	// still is how long the source may be silent, with no sample at all, before
	// something must be wrong; 0 for ever.
	still time.Duration
}

// holdSeconds is how much sound a source holds while nobody fetches it, such as
// when a disk takes its time.
const holdSeconds = 30

// newRing returns the ring between a source and who fetches from it.
func newRing(f Format) *ring.Ring {
	fill := byte(0)
	if f.Encoding == U8 {
		fill = 128
	}
	return ring.New(holdSeconds*f.Rate*f.frameBytes(), fill)
}

// ErrNoMicrophone says that there is no microphone, or none that can be used;
// the message says why.
var ErrNoMicrophone = device.ErrNone

// ErrUnplugged says that the microphone was taken away while it was listened to.
var ErrUnplugged = device.ErrGone

// ErrStill says that a microphone delivers nothing, not even silence.
var ErrStill = errors.New("no sample comes from the microphone")

// Microphones returns the names of the microphones that the system offers, the
// default one first where the system says which that is.
//
// It returns ErrNoMicrophone if there is no sound system to be asked.
func Microphones() ([]string, error) { return device.Names() }

// Microphone is the named microphone, or the default one for "". Part of a name
// is enough where it fits only one. It is opened when the listening begins, and
// delivers what it records as it is: rate, channels and encoding are its own.
func Microphone(name string) *Source {
	called := "the default microphone"
	if name != "" {
		called = fmt.Sprintf("microphone %q", name)
	}
	return &Source{name: called, open: func() (*stream, error) {
		d, err := device.Open(name)
		if err != nil {
			return nil, err
		}
		f, err := Format{d.Rate, d.Channels, Encoding(d.Encoding)}.normal()
		if err != nil {
			d.Close()
			return nil, fmt.Errorf("%s: %w", d.Name, err)
		}
		r := newRing(f)
		if err := d.Start(r); err != nil {
			d.Close()
			return nil, err
		}
		return &stream{name: d.Name, format: f, Reader: r, still: 2 * time.Second,
			lost: func() int64 { return r.Lost() / int64(f.frameBytes()) },
			shut: func() {
				r.Close()
				d.Close()
			}}, nil
	}}
}

// Raw is a stream of bare samples, such as a recorder program writes to its
// standard output. Nothing in the stream tells its format: it must be stated.
func Raw(r io.Reader, f Format) *Source {
	return &Source{name: "a stream of samples", open: func() (*stream, error) {
		f, err := f.normal()
		if err != nil {
			return nil, err
		}
		return piped("a stream of samples", r, f), nil
	}}
}

// piped returns the stream that a goroutine fills from r.
func piped(name string, r io.Reader, f Format) *stream {
	held := newRing(f)
	go func() {
		buf := make([]byte, 8192)
		for {
			n, err := r.Read(buf)
			if n > 0 && !held.PutAll(buf[:n]) {
				return
			}
			if err != nil {
				held.End(err)
				return
			}
		}
	}()
	return &stream{name: name, format: f, Reader: held, shut: held.Close, lost: func() int64 { return 0 }}
}
