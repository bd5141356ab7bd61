//go:build cgo

package device

import (
	"fmt"
	"runtime"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"github.com/gen2brain/malgo"
)

// Names returns the names of the microphones, the default one first.
func Names() ([]string, error) {
	s, err := openSystem()
	if err != nil {
		return nil, err
	}
	defer s.close()
	infos, err := s.microphones()
	if err != nil {
		return nil, err
	}
	return namesOf(infos), nil
}

// namesOf brings the default device, if there is one, to the front.
func namesOf(infos []malgo.DeviceInfo) []string {
	var names []string
	for i := range infos {
		if infos[i].IsDefault != 0 {
			names = append([]string{infos[i].Name()}, names...)
		} else {
			names = append(names, infos[i].Name())
		}
	}
	return names
}

// system is a connection to the sound system.
type system struct{ *malgo.AllocatedContext }

// backends are what may be asked for sound on each system, in this order. The
// library's own list ends with one that delivers silence where there is nothing
// else, which nobody wants to measure.
var backends = map[string][]malgo.Backend{
	"linux":   {malgo.BackendPulseaudio, malgo.BackendAlsa, malgo.BackendJack},
	"darwin":  {malgo.BackendCoreaudio},
	"windows": {malgo.BackendWasapi, malgo.BackendDsound, malgo.BackendWinmm},
}

func openSystem() (*system, error) {
	list, ok := backends[runtime.GOOS]
	if !ok {
		list = []malgo.Backend{malgo.BackendSndio, malgo.BackendAudio4, malgo.BackendOss, malgo.BackendAaudio, malgo.BackendOpensl, malgo.BackendPulseaudio}
	}
	ctx, err := malgo.InitContext(list, malgo.ContextConfig{}, nil)
	if err != nil {
		return nil, fmt.Errorf("%w: no sound system answers (%v); is one running, and may you use it?", ErrNone, err)
	}
	return &system{ctx}, nil
}

func (s *system) close() {
	s.Uninit()
	s.Free()
}

// microphones lists the devices to record from, but for the one of ALSA that makes
// up silence.
func (s *system) microphones() ([]malgo.DeviceInfo, error) {
	infos, err := s.Devices(malgo.Capture)
	if err != nil {
		return nil, fmt.Errorf("%w can be listed: %v", ErrNone, err)
	}
	return slices.DeleteFunc(infos, func(d malgo.DeviceInfo) bool {
		return strings.HasPrefix(d.Name(), "Discard all samples")
	}), nil
}

// periodMilliseconds is how much sound comes at a time: short, since it is a part
// of the delay between a sound and its number.
const periodMilliseconds = 10

// heldPeriods is how many of these the sound system holds for us while this
// process does not run. It is part of no delay; three, which is usual, lose sound
// on a machine that has other work.
const heldPeriods = 200

// Open opens the named microphone, the default one for "". It delivers what the
// device itself records: nothing is mixed, filtered or brought to another rate.
func Open(name string) (*Device, error) {
	s, err := openSystem()
	if err != nil {
		return nil, err
	}
	d, err := s.open(name)
	if err != nil {
		s.close()
		return nil, err
	}
	return d, nil
}

func (s *system) open(name string) (*Device, error) {
	infos, err := s.microphones()
	if err != nil {
		return nil, err
	}
	config := malgo.DefaultDeviceConfig(malgo.Capture)
	config.PeriodSizeInMilliseconds = periodMilliseconds
	config.Periods = heldPeriods
	config.NoFixedSizedCallback = 1
	config.Capture.Format = malgo.FormatUnknown // the device's own
	config.Capture.Channels = 0
	config.SampleRate = 0
	config.Pulse.StreamNameCapture = "listening to a rotor"
	config.Wasapi.NoAutoConvertSRC = 1
	config.Alsa.NoAutoResample = 1
	called := "the default microphone"
	var names []string
	for i := range infos {
		names = append(names, infos[i].Name())
		if infos[i].IsDefault != 0 {
			called = infos[i].Name()
		}
	}
	if name != "" {
		i, err := choose(name, names)
		if err != nil {
			return nil, err
		}
		called = names[i]
		config.Capture.DeviceID = infos[i].ID.Pointer()
	} else if len(names) == 0 {
		return nil, fmt.Errorf("%w: the sound system knows no device to record from", ErrNone)
	}
	h := &handler{}
	dev, err := malgo.InitDevice(s.Context, config, malgo.DeviceCallbacks{Data: h.data, Stop: h.stopped})
	if err != nil {
		return nil, fmt.Errorf("%s cannot be opened: %v; is it in use, or forbidden to this program?", called, err)
	}
	d := &Device{Name: called, Through: "the sound system", Rate: int(dev.SampleRate()), Channels: int(dev.CaptureChannels())}
	if d.Encoding = encodingOf(dev.CaptureFormat()); d.Encoding == "" {
		dev.Uninit()
		return nil, fmt.Errorf("%s delivers samples of an unknown kind (%v)", called, dev.CaptureFormat())
	}
	d.begin = func(sink Sink) error {
		h.sink.Store(&sink)
		if err := dev.Start(); err != nil {
			return fmt.Errorf("%s cannot be started: %v", called, err)
		}
		return nil
	}
	d.close = func() {
		h.closing.Store(true)
		closed := make(chan struct{})
		go func() {
			dev.Uninit()
			s.close()
			close(closed)
		}()
		select {
		case <-closed:
		case <-time.After(closing): // it waits for a sound system that is no more
		}
	}
	return d, nil
}

// encodingOf names the kind of samples.
func encodingOf(f malgo.FormatType) string {
	return map[malgo.FormatType]string{
		malgo.FormatU8: "u8", malgo.FormatS16: "s16le", malgo.FormatS24: "s24le", malgo.FormatS32: "s32le", malgo.FormatF32: "f32le",
	}[f]
}

// closing is how long a device may take to be closed.
const closing = 2 * time.Second

// handler hands on what the device's thread says.
type handler struct {
	sink    atomic.Pointer[Sink]
	closing atomic.Bool
}

func (h *handler) data(_, in []byte, _ uint32) {
	if s := h.sink.Load(); s != nil && !h.closing.Load() {
		(*s).Put(in)
	}
}

func (h *handler) stopped() {
	if s := h.sink.Load(); s != nil && !h.closing.Load() {
		(*s).End(ErrGone)
	}
}
