package listen

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"rotorhum/tacho"
)

// Format says how samples follow each other in a stream of bytes: frame after
// frame, in each frame one sample of every channel.
type Format struct {
	// Rate is fs, the number of frames in a second, in hertz. It has no default:
	// a wrong rate makes every speed wrong by the same factor.
	Rate int
	// Channels is the number of channels; 0 means 1.
	Channels int
	// Encoding is how a sample is stored; "" means S16.
	Encoding Encoding
}

// Encoding is how one sample is stored in bytes, the lowest byte first.
type Encoding string

// The encodings of samples. Full scale is 1.
const (
	U8  Encoding = "u8"    // 8 bits, 128 is silence
	S16 Encoding = "s16le" // 16 bits, signed
	S24 Encoding = "s24le" // 24 bits, signed, in 3 bytes
	S32 Encoding = "s32le" // 32 bits, signed
	F32 Encoding = "f32le" // 32-bit floating-point numbers
)

// encodings lists every encoding with its bytes in a sample.
var encodings = map[Encoding]int{U8: 1, S16: 2, S24: 3, S32: 4, F32: 4}

// The limits of what is taken for a format that somebody can mean.
const (
	minRate, maxRate = 1000, 1_000_000
	maxChannels      = 64
)

// ParseFormat reads a format as it is written on a command line: the rate in
// hertz, then, after colons, the number of channels and the encoding, which may
// be left out, such as "48000", "44100:2" or "48000:1:s24le".
//
// It returns tacho.ErrOption for anything else.
func ParseFormat(s string) (Format, error) {
	parts := strings.Split(s, ":")
	f := Format{}
	var err error
	if f.Rate, err = strconv.Atoi(parts[0]); err != nil || len(parts) > 3 {
		return f, optionError("format %q: write the rate in hertz, then the channels and the encoding if they are not 1 and s16le, such as 48000 or 44100:2:s16le", s)
	}
	if len(parts) > 1 {
		if f.Channels, err = strconv.Atoi(parts[1]); err != nil || f.Channels < 1 {
			return f, optionError("format %q: %q is no number of channels", s, parts[1])
		}
	}
	if len(parts) > 2 {
		f.Encoding = Encoding(strings.ToLower(parts[2]))
	}
	return f.normal()
}

// normal fills in what was left out, and refuses what cannot be meant.
func (f Format) normal() (Format, error) {
	if f.Channels == 0 {
		f.Channels = 1
	}
	if f.Encoding == "" {
		f.Encoding = S16
	}
	switch {
	case f.Rate == 0:
		return f, optionError("the sample rate is not given: without it no frequency can be told; say how many samples come in a second, such as 48000")
	case f.Rate < minRate || f.Rate > maxRate:
		return f, optionError("a sample rate of %d Hz: it must lie between %d and %d Hz", f.Rate, minRate, maxRate)
	case f.Channels < 1 || f.Channels > maxChannels:
		return f, optionError("%d channels: there must be 1 to %d", f.Channels, maxChannels)
	case encodings[f.Encoding] == 0:
		return f, optionError("encoding %q: it is one of %s", f.Encoding, strings.Join(encodingNames(), ", "))
	}
	return f, nil
}

func encodingNames() []string {
	var names []string
	for e := range encodings {
		names = append(names, string(e))
	}
	slices.Sort(names)
	return names
}

// sampleBytes returns the size of one sample.
func (f Format) sampleBytes() int { return encodings[f.Encoding] }

// frameBytes returns the size of one sample of every channel.
func (f Format) frameBytes() int { return f.Channels * f.sampleBytes() }

// seconds returns how long so many frames last.
func (f Format) seconds(frames int64) float64 { return float64(frames) / float64(f.Rate) }

// frames returns the number of whole frames that begin before that many seconds.
func (f Format) frames(seconds float64) int64 { return int64(seconds*float64(f.Rate) + 0.5) }

// String returns the format in words, such as "48000 Hz, 1 channel, s16le".
func (f Format) String() string {
	if f.Channels == 1 {
		return fmt.Sprintf("%d Hz, 1 channel, %s", f.Rate, f.Encoding)
	}
	return fmt.Sprintf("%d Hz, %d channels, %s", f.Rate, f.Channels, f.Encoding)
}

// optionError returns a tacho.ErrOption that names what is wrong.
func optionError(format string, args ...any) error {
	return fmt.Errorf("%w: %s", tacho.ErrOption, fmt.Sprintf(format, args...))
}
