package live

import (
	"fmt"
	"math"

	"rotorhum/tacho"
)

// Follower follows the speed of one rotor in a sound that is still coming. It
// keeps the last seconds only, however long it listens. It is for one goroutine
// at a time.
type Follower struct {
	rate  float64
	opt   tacho.Options
	taken int       // samples in steps that are done
	steps int       // readings so far
	raw   []float64 // samples of the step that is not done
	bad   int
	start float64 // when what is followed began, in seconds

	intake  *intake
	hum     *hum
	sound   memory // working samples without the hum
	columns *columns
	tracker *tracker
	top     summit
}

// The sampling rates that can be followed, in hertz.
const (
	leastRate = 2000.0
	mostRate  = 1.6e6
)

// soundSeconds is how long working samples are kept.
const soundSeconds = 2.5

// New returns a follower of sound at the given sampling rate in hertz.
//
// Of the options, Pulses, Range and ClockPPM count; a follower hears one channel.
// It returns ErrOption for a rate outside 2 kHz to 1.6 MHz and for options out of
// range.
func New(rate float64, opt tacho.Options) (*Follower, error) {
	if !(rate >= leastRate && rate <= mostRate) {
		return nil, fmt.Errorf("%w: sampling rate %v Hz: it must lie from %g to %g Hz, such as 48000", tacho.ErrOption, rate, leastRate, mostRate)
	}
	opt.Channel = 0
	opt, err := opt.For(rate, 1)
	if err != nil {
		return nil, err
	}
	f := &Follower{rate: rate, opt: opt}
	f.begin()
	f.columns = newColumns(f.intake.fs)
	f.top.opt = opt
	return f, nil
}

// Push takes the next samples, of full scale 1, as many as there are, and returns
// the readings that have become due, none to many. How the sound is cut into
// pieces makes no difference to them.
//
// Samples that are NaN, infinite or beyond 1000 are taken for silence and counted,
// see Bad.
func (f *Follower) Push(samples []float32) []Reading {
	var out []Reading
	for len(samples) > 0 {
		due := f.boundary(f.steps+1) - f.taken - len(f.raw)
		n := min(due, len(samples))
		for _, s := range samples[:n] {
			v := float64(s)
			if !(math.Abs(v) <= absurd) {
				v = 0
				f.bad++
			}
			f.raw = append(f.raw, v)
		}
		samples = samples[n:]
		if n == due {
			out = append(out, f.step())
		}
	}
	return out
}

// Skip lets n samples pass that were lost or that there was no time to look at.
// There are no readings for them; what was followed is let go, and must be heard
// anew. It does nothing for n < 1.
func (f *Follower) Skip(n int) {
	if n < 1 {
		return
	}
	f.taken += len(f.raw) + n
	f.raw = f.raw[:0]
	f.steps = int(float64(f.taken) / (Step * f.rate))
	for f.boundary(f.steps) > f.taken {
		f.steps--
	}
	for f.boundary(f.steps+1) <= f.taken {
		f.steps++
	}
	f.top.see(state{})
	f.begin()
}

// boundary returns the sample at which step k begins.
func (f *Follower) boundary(k int) int { return int(math.Round(float64(k) * Step * f.rate)) }

// begin starts to follow at the present moment.
func (f *Follower) begin() {
	f.start = float64(f.taken) / f.rate
	f.intake = newIntake(f.rate, float64(f.opt.Range.Hi))
	fs := f.intake.fs
	f.hum = newHum(fs)
	f.sound = memory{keep: int(soundSeconds * fs)}
	runs := 0
	if f.tracker != nil {
		runs = f.tracker.runs
	}
	f.tracker = newTracker(fs, f.opt)
	f.tracker.runs = runs
}

// absurd is the magnitude beyond which a sample is no sound.
const absurd = 1000

// step takes in the samples of one step and returns its reading.
func (f *Follower) step() Reading {
	f.steps++
	f.taken += len(f.raw)
	r := Reading{At: float64(f.taken) / f.rate}
	r.Level, r.Peak, r.Clipped = levels(f.raw)
	x, err := f.intake.feed(f.raw)
	f.raw = f.raw[:0]
	if err != nil { // samples in memory cannot fail to be read
		r.Why = err.Error()
		return r
	}
	f.sound.add(f.hum.take(x, &f.sound))
	r.Column = f.columns.of(f.hum.heard.x)
	s := f.tracker.step(&f.sound, f.hum)
	for _, list := range [][]point{s.settled, s.tail} {
		for i := range list {
			list[i].t += f.start
		}
	}
	f.top.see(s)
	if h, ok := f.top.highest(); ok {
		r.Highest = &h
	}
	r.Why = s.why
	if s.heard {
		r.Heard = true
		r.Tone = toneOf(s.hz, s.u, f.opt)
		r.Speed = r.Tone.Scale(1/float64(f.opt.Pulses), "rev/s")
		r.SNR = s.snr
	}
	return r
}

// toneOf returns a pulse rate with its contributions.
func toneOf(hz, u float64, opt tacho.Options) tacho.Value {
	v := tacho.Measured(hz, u, "Hz", "tone")
	if opt.ClockPPM > 0 {
		v.Parts = append(v.Parts, tacho.Part{Name: "clock", U: opt.ClockPPM * 1e-6 * hz})
	}
	return v
}

// Highest returns the highest speed so far and its moment; false if no rotor was
// heard yet. Like the peak of a recording it is estimated from all moments that
// could be the top, not the largest of many noisy readings, and from what was
// heard before and after each; what has been heard too briefly to be sure of is
// left out.
func (f *Follower) Highest() (Highest, bool) { return f.top.highest() }

// ColumnHz returns the spacing of Reading.Column in hertz.
func (f *Follower) ColumnHz() float64 { return f.columns.df }

// Seconds returns the length of the sound so far.
func (f *Follower) Seconds() float64 { return float64(f.taken+len(f.raw)) / f.rate }

// Bad returns the number of samples that were no usable numbers.
func (f *Follower) Bad() int { return f.bad }
