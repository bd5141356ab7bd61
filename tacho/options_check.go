package tacho

import (
	"fmt"
	"math"

	"rotorhum/tacho/internal/sound"
)

// normal returns the options with their defaults filled in, or ErrOption.
func (o Options) normal(rec *Recording) (Options, error) {
	if rec == nil || rec.Frames == 0 {
		return o, fmt.Errorf("%w in the recording", ErrNoSamples)
	}
	return o.For(rec.Rate, rec.Channels)
}

// For returns the options with their defaults filled in, for sound of the given
// sample rate and number of channels: ErrOption if one is out of its range or
// does not fit such a sound. A ClockPPM below zero is then -1.
func (o Options) For(rate float64, channels int) (Options, error) {
	if o.Pulses < 0 {
		return o, optionError("pulses per turn %d: it must be at least 1, or 0 where the turn itself is heard", o.Pulses)
	}
	if o.Pulses == 0 {
		o.Pulses = 1
	}
	if o.Range == (Range{}) {
		o.Range = DefaultRange
	}
	if !(o.Range.Lo > 0) || !(o.Range.Hi > o.Range.Lo) || math.IsInf(float64(o.Range.Hi), 1) {
		return o, optionError("range %v to %v: it must rise from above 0 Hz, such as 20 to 6000 Hz", float64(o.Range.Lo), float64(o.Range.Hi))
	}
	if float64(o.Range.Lo) >= rate/2 {
		return o, optionError("range from %v: this recording holds nothing above half its sample rate, %.4g Hz", o.Range.Lo, rate/2)
	}
	switch o.Motion {
	case "":
		o.Motion = Auto
	case Auto, Steady, Varying:
	default:
		return o, optionError("motion %q: it must be %q, %q or %q", o.Motion, Auto, Steady, Varying)
	}
	if o.Channel < MixDown || o.Channel > channels {
		return o, optionError("channel %d: the recording has %d; 0 weighs all, -1 mixes them", o.Channel, channels)
	}
	if math.IsNaN(o.ClockPPM) || math.IsInf(o.ClockPPM, 0) {
		return o, optionError("clock uncertainty %v ppm: it must be a finite number", o.ClockPPM)
	}
	switch {
	case o.ClockPPM == 0:
		o.ClockPPM = DefaultClockPPM
	case o.ClockPPM < 0:
		o.ClockPPM = -1
	}
	return o, nil
}

// clock returns the relative standard uncertainty of the sampling clock.
func (o Options) clock() float64 { return math.Max(0, o.ClockPPM) * 1e-6 }

// tone makes a pulse rate with its contributions.
func (o Options) tone(hz, u float64) Value {
	v := Measured(hz, u, "Hz", "tone")
	if c := o.clock(); c > 0 {
		v.Parts = append(v.Parts, Part{Name: "clock", U: c * hz})
	}
	return v
}

// interval returns the 95 % interval of a pulse rate with the given standard
// uncertainty from noise.
func (o Options) interval(hz, u float64) (lo, hi Hertz) {
	k := coverage(0.95, math.Inf(1)) * math.Hypot(u, o.clock()*hz)
	return Hertz(math.Max(0, hz-k)), Hertz(hz + k)
}

// stopped returns the error of the context once that has ended.
func (o Options) stopped() error { return ended(o.Context) }

// slowest is the lowest pulse rate, in hertz, that is looked for while a rate changes:
// a rotor that slows down out of the range is followed below it, or else its multiples,
// which lie within, would be read.
func (o Options) slowest() float64 { return float64(o.Range.Lo) / 2 }

// belowUsual and belowStated are what it costs, in nats, that a rotor turns below the
// range: it does so once in twenty times where the range is the usual one, and hardly
// ever where somebody has stated another.
const belowUsual, belowStated = 3.0, 20.0

// belowRange returns which of the two holds.
func (o Options) belowRange() float64 {
	if o.Range.Lo == DefaultRange.Lo {
		return belowUsual
	}
	return belowStated
}

// part returns the options for a part of the work, whose progress counts as that
// from one share of all to another; a whole of none is not told.
func (o Options) part(from, to float64) Options {
	if whole := o.Progress; whole != nil {
		o.Progress = nil
		if to > from {
			o.Progress = func(done float64) { whole(from + done*(to-from)) }
		}
	}
	return o
}

// rising returns a function that tells progress only what is more than before.
func rising(tell func(done float64)) func(done float64) {
	if tell == nil {
		return nil
	}
	last := math.Inf(-1)
	return func(done float64) {
		if done = math.Min(done, 1); done > last {
			last = done
			tell(done)
		}
	}
}

// workingRate is the sampling rate, in hertz, that the analysis wants.
const workingRate = 15000.0

// source opens the channels that the options ask for.
func (o Options) source(rec *Recording) (*sound.Source, error) {
	least := math.Max(workingRate, 2.3*float64(o.Range.Hi))
	// every look at the recording is a chance to stop
	block := func(ch, start int, dst []float64) (int, error) {
		if err := o.stopped(); err != nil {
			return 0, err
		}
		return rec.Block(ch, start, dst)
	}
	if o.Channel == MixDown && rec.Channels > 1 {
		mix := func(_, start int, dst []float64) (int, error) {
			clear(dst)
			part := make([]float64, len(dst))
			n := 0
			for c := 0; c < rec.Channels; c++ {
				k, err := block(c, start, part)
				if err != nil {
					return k, err
				}
				n = k
				for i, v := range part[:k] {
					dst[i] += v / float64(rec.Channels)
				}
			}
			return n, nil
		}
		return o.quiet(sound.New(mix, []int{0}, rec.Frames, rec.Rate, least))
	}
	channels := []int{0}
	if o.Channel > 0 {
		channels[0] = o.Channel - 1
	} else {
		for c := 1; c < rec.Channels; c++ {
			channels = append(channels, c)
		}
	}
	return o.quiet(sound.New(block, channels, rec.Frames, rec.Rate, least))
}

// quiet takes the hum of the electric supply out of a source. If there is nothing
// else, and the word of the user that something turns steadily, it stays.
func (o Options) quiet(src *sound.Source, err error) (*sound.Source, error) {
	if err != nil {
		return nil, err
	}
	src.Stop = o.stopped
	h, err := src.FindHum()
	if err == nil && h != nil {
		err = src.Remove(h)
		if h.Only && o.Motion == Steady {
			src.Keep()
		}
	}
	return src, err
}
