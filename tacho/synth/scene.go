package synth

import (
	"errors"
	"fmt"
	"math"
)

// Scene describes a recording: what spins, where, and who listens. Its fields
// are data and have JSON names, so that a recording can be kept as the few lines
// it was made from. Rate and Seconds must be set; everything else may be left
// out, and is then absent from the recording.
type Scene struct {
	Title string `json:"title,omitempty"`
	Note  string `json:"note,omitempty"`
	// Rate is fs, in samples per second as the file will state it.
	Rate    int     `json:"rate_hz"`
	Seconds float64 `json:"seconds"`
	Seed    uint64  `json:"seed,omitempty"`
	// ClockPPM makes the recorder's clock fast: with 100 it takes 100 samples in
	// a million more per second than Rate states.
	ClockPPM float64 `json:"clock_ppm,omitempty"`

	// Rotors; the truth is about the first.
	Rotors []Rotor `json:"rotors,omitempty"`
	// Other sounds in the same room.
	Voices []Voice  `json:"voices,omitempty"`
	Music  []Music  `json:"music,omitempty"`
	Clicks []Clicks `json:"clicks,omitempty"`
	// Room makes all of them ring on.
	Room *Room `json:"room,omitempty"`
	// Noise and Mains reach the microphone past the room.
	Noise []Noise `json:"noise,omitempty"`
	Mains []Mains `json:"mains,omitempty"`

	// Channels, one microphone each; none means one plain channel.
	Channels []Channel `json:"channels,omitempty"`
	// What the recorder does to the sound, in this order.
	Microphone  *Microphone  `json:"microphone,omitempty"`
	GainControl *GainControl `json:"gain_control,omitempty"`
	// Clip is the part of all samples that the recorder cuts off at full scale,
	// from 0 to 0.9.
	Clip     float64   `json:"clip,omitempty"`
	Dropouts *Dropouts `json:"dropouts,omitempty"`
	Codec    *Codec    `json:"codec,omitempty"`
	// Peak scales the recording so that its loudest sample has this size, of
	// full scale 1; 0 leaves the sizes as they are.
	Peak float64 `json:"peak,omitempty"`
	// Bits rounds the samples to this many bits and limits them to full scale;
	// 0 leaves them as they are.
	Bits int `json:"bits,omitempty"`
}

// Channel is one microphone of the recorder.
type Channel struct {
	// Gain in dB.
	Gain float64 `json:"gain_db,omitempty"`
	// Delay, in seconds, of every sound in the room. It need not be a whole
	// number of samples.
	Delay float64 `json:"delay_s,omitempty"`
	// Inverted turns the polarity of every sound in the room, not of the noise.
	Inverted bool `json:"inverted,omitempty"`
}

// Take is a recording made from a scene.
type Take struct {
	// Rate is fs, samples per second, as the file states it.
	Rate int
	// Samples holds the channels, all of the same length.
	Samples [][]float64
	// Truth is about the first rotor, Others about the rest. Without a rotor
	// Truth is the zero value: no pulses, no sound, at rest.
	Truth  Truth
	Others []Truth
	// LinePower is the power of all lines of the first rotor, mean over the time
	// it turns, in the first channel before room and microphone; NoisePower is
	// the variance of all noise together. Both in units of full scale squared.
	LinePower, NoisePower float64
	// Gaps are the moments at which the recorder lost the sound.
	Gaps []Interval
}

// Seconds returns the length of the recording in seconds, as the file states it.
func (t *Take) Seconds() float64 {
	if len(t.Samples) == 0 || t.Rate == 0 {
		return 0
	}
	return float64(len(t.Samples[0])) / float64(t.Rate)
}

// maxSamples bounds a recording: an hour and a half in stereo at 48 kHz.
const maxSamples = 1 << 29

// Make returns the recording. The same scene always gives the same recording.
// It returns an error that names the field when the scene makes no sense.
func (s Scene) Make() (*Take, error) { return s.MakeWith(Watch{}) }

// MakeWith is [Scene.Make] for a long recording: it can show its progress and be
// stopped.
func (s Scene) MakeWith(w Watch) (*Take, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	st, err := s.stage(w)
	if err != nil {
		return nil, err
	}
	take := &Take{Rate: s.Rate, Samples: make([][]float64, len(st.channels))}
	st.perform()
	for c := range take.Samples {
		if err := st.err(); err != nil {
			return nil, err
		}
		take.Samples[c] = st.hear(c)
	}
	gain := s.record(st.work, take)
	if err := st.err(); err != nil {
		return nil, err
	}
	take.LinePower, take.NoisePower = st.linePower*gain*gain, st.noisePower*gain*gain
	for i, p := range st.players {
		truth := p.truth(gain)
		if i == 0 {
			take.Truth = truth
		} else {
			take.Others = append(take.Others, truth)
		}
	}
	return take, nil
}

// record passes the channels through the recorder, in place. It returns the
// factor by which the last stage scaled them.
func (s Scene) record(w *work, take *Take) float64 {
	fs := float64(s.Rate)
	if w.err() != nil {
		return 1
	}
	if s.GainControl != nil {
		s.GainControl.apply(w, take.Samples, fs)
	}
	if s.Clip > 0 {
		clip(take.Samples, s.Clip)
	}
	if s.Dropouts != nil {
		take.Gaps = s.Dropouts.apply(take.Samples, fs, stream(s.Seed, streamDropouts, 0))
	}
	if s.Codec != nil {
		for c, x := range take.Samples {
			take.Samples[c] = s.Codec.apply(w, x, fs)
		}
	}
	gain := 1.0
	if s.Peak > 0 {
		gain = toPeak(take.Samples, s.Peak)
	}
	if s.Bits > 0 {
		for _, x := range take.Samples {
			Quantise(x, s.Bits)
		}
	}
	return gain
}

// toPeak scales all channels by one factor, so that the loudest sample has size
// peak, and returns the factor. Silence stays as it is.
func toPeak(samples [][]float64, peak float64) float64 {
	loudest := 0.0
	for _, x := range samples {
		for _, v := range x {
			loudest = math.Max(loudest, math.Abs(v))
		}
	}
	if loudest == 0 {
		return 1
	}
	gain := peak / loudest
	for _, x := range samples {
		for i := range x {
			x[i] *= gain
		}
	}
	return gain
}

// Quantise rounds x, in place, to the steps of a recorder with this many bits
// (2 to 32): steps of 2^(1-bits), from -1 to 1 less one step. It does not dither.
func Quantise(x []float64, bits int) {
	steps := math.Ldexp(1, bits-1)
	for i, v := range x {
		x[i] = math.Max(-steps, math.Min(steps-1, math.RoundToEven(v*steps))) / steps
	}
}

func (s Scene) check() error {
	if s.Rate < 1000 || s.Rate > 768000 {
		return fmt.Errorf("scene: rate_hz is %d; give samples per second, from 1000 to 768000", s.Rate)
	}
	fs := float64(s.Rate)
	if !(s.Seconds > 0) || s.Seconds*fs*math.Max(1, float64(len(s.Channels))) > maxSamples {
		return fmt.Errorf("scene: seconds is %v; give a length above zero and below %d samples in all channels together", s.Seconds, maxSamples)
	}
	if !(math.Abs(s.ClockPPM) <= 1e4) {
		return fmt.Errorf("scene: clock_ppm is %v; give parts in a million, from -10000 to 10000", s.ClockPPM)
	}
	if !(s.Peak >= 0 && s.Peak <= 1) {
		return fmt.Errorf("scene: peak is %v; give a part of full scale from 0 to 1", s.Peak)
	}
	if s.Bits != 0 && (s.Bits < 2 || s.Bits > 32) {
		return fmt.Errorf("scene: bits is %d; give 2 to 32, or 0 for no rounding", s.Bits)
	}
	if len(s.Channels) > 64 {
		return errors.New("scene: more than 64 channels")
	}
	for i, c := range s.Channels {
		if !(math.Abs(c.Gain) <= 120) || !(c.Delay >= 0 && c.Delay <= 1) {
			return fmt.Errorf("scene: channel %d needs a gain from -120 to 120 dB and a delay from 0 to 1 s", i+1)
		}
	}
	for i, r := range s.Rotors {
		if err := r.check(i+1, fs); err != nil {
			return fmt.Errorf("scene: %w", err)
		}
	}
	if !(s.Clip >= 0 && s.Clip <= 0.9) {
		return fmt.Errorf("scene: clip is %v; give the part of clipped samples, from 0 to 0.9", s.Clip)
	}
	return s.checkSurroundings(fs)
}

// checkSurroundings checks everything around the rotors.
func (s Scene) checkSurroundings(fs float64) error {
	var found []error
	for i, v := range s.Voices {
		found = append(found, v.check(i+1))
	}
	for i, m := range s.Music {
		found = append(found, m.check(i+1))
	}
	for i, c := range s.Clicks {
		found = append(found, c.check(i+1))
	}
	for i, v := range s.Noise {
		found = append(found, v.check(i+1, fs))
	}
	for i, m := range s.Mains {
		found = append(found, m.check(i+1))
	}
	if s.Room != nil {
		found = append(found, s.Room.check())
	}
	if s.Microphone != nil {
		found = append(found, s.Microphone.check(fs))
	}
	if s.GainControl != nil {
		found = append(found, s.GainControl.check())
	}
	if s.Dropouts != nil {
		found = append(found, s.Dropouts.check())
	}
	if s.Codec != nil {
		found = append(found, s.Codec.check(fs))
	}
	for _, err := range found {
		if err != nil {
			return fmt.Errorf("scene: %w", err)
		}
	}
	return nil
}
