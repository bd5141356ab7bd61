package tacho

import (
	"fmt"
	"math"
	"runtime"
)

// Version is the version of this program, as written into every measurement.
const Version = "0.1.0"

// Measurement is everything that a recording and a rotor say together: the
// verdict, the speed or its course with the peak, what follows for the tip,
// the other readings, and the doubts. It prints itself as text, Markdown,
// HTML and JSON.
type Measurement struct {
	// Recording says which sound was measured.
	Recording RecordingFacts
	// Rotor is what made it. Its Pulses is 1 where it was not stated.
	Rotor Rotor
	// Verdict is what can be said, with the Reasons in plain sentences.
	Verdict Verdict
	Reasons []string
	// Speed is the shaft speed in rev/s if the verdict is steady, else nil.
	Speed *Value
	// Points are the shaft speed over time, in order, without the stretches in
	// which no rotor is heard.
	Points []SpeedPoint
	// Peak is the highest shaft speed if the verdict is varying, else nil.
	Peak *ShaftPeak
	// Derived follows from Speed or Peak, whichever there is; nil without a
	// reading.
	Derived *Derived
	// Alternatives are the other readings of the same sound, the best first.
	Alternatives []AlternativeSpeed
	// Warnings are doubts that do not forbid the reading.
	Warnings []string
	// MadeWith says which versions made the measurement.
	MadeWith MadeWith
	// Track is what the measurement was made from, for pictures; nil for a
	// measurement put together by hand.
	Track *Track
}

// RecordingFacts identifies a recording.
type RecordingFacts struct {
	File, SHA256    string
	Rate            float64 // Hz
	Channels        int
	Seconds         float64
	ClippedFraction float64 // 0 to 1
	PeakDBFS        float64 // minus infinity for digital silence
	Codec           string  // how the sound was stored; empty if it came from samples
}

// SpeedPoint is the shaft speed at one moment, with its 95 % interval.
type SpeedPoint struct {
	T              float64 // seconds from the start of the recording
	Fr, Lo95, Hi95 RevPerSec
}

// ShaftPeak is the highest shaft speed and its moment.
type ShaftPeak struct {
	// T is the moment in seconds from the start, TLo95 and THi95 its interval.
	T, TLo95, THi95 float64
	// Speed is the shaft speed in rev/s.
	Speed Value
}

// AlternativeSpeed is another shaft speed that the same sound could mean.
type AlternativeSpeed struct {
	Fr RevPerSec
	// Factor is its ratio to the winner in words, such as "1/2" or "3".
	Factor string
	// Odds is how many times less likely it is than the winner, at least 1 and
	// at most 1e12, beyond which a model's odds mean nothing.
	Odds float64
}

// maxOdds bounds AlternativeSpeed.Odds.
const maxOdds = 1e12

// Derived is the same speed in other words. Tip and GLoad are nil if the
// radius of the rotor is not known.
type Derived struct {
	RPM   Value  // rev/min
	Tip   *Value // tip speed in m/s; Value.To gives it in km/h or mile/h
	GLoad *Value // acceleration of the tip in units of standard gravity
}

// MadeWith names the versions that made a measurement.
type MadeWith struct{ Rotorhum, Go string }

// NewMeasurement turns the track of a recording into a measurement of the
// rotor, whose pulses must be at least 1.
//
// It returns ErrPulses, ErrRadius or ErrUnit if the rotor makes no sense, and
// an error if the track claims a reading that it does not hold or holds a NaN
// or an infinity.
func NewMeasurement(rec *Recording, rotor Rotor, track *Track) (*Measurement, error) {
	m := &Measurement{
		Recording: RecordingFacts{rec.Name, rec.SHA256, rec.Rate, rec.Channels, rec.Seconds(), rec.ClippedFraction, rec.PeakDBFS, rec.Codec},
		Rotor:     rotor,
		Verdict:   track.Verdict,
		Reasons:   append([]string(nil), track.Reasons...),
		MadeWith:  MadeWith{Version, runtime.Version()},
		Track:     track,
	}
	m.Warnings = append(append([]string(nil), rec.Warnings...), track.Warnings...)
	if track.Verdict == VerdictNoReading {
		return m, nil
	}
	if err := m.readSpeed(track); err != nil {
		return nil, err
	}
	if err := m.derive(); err != nil {
		return nil, err
	}
	if err := m.readPoints(track.Points); err != nil {
		return nil, err
	}
	return m, m.readAlternatives(track.Alternatives)
}

// readSpeed takes the steady speed or the peak from the track.
func (m *Measurement) readSpeed(track *Track) error {
	switch track.Verdict {
	case VerdictSteady:
		if track.Steady == nil {
			return fmt.Errorf("tacho: a track that is said to be steady holds no steady family")
		}
		fr, err := m.Rotor.Speed(track.Steady.Tone)
		if err != nil {
			return err
		}
		m.Speed = &fr
		return checkFinite("the steady speed", fr)
	case VerdictVarying:
		peak, err := track.Peak()
		if err != nil {
			return fmt.Errorf("tacho: a track that is said to vary has no peak: %w", err)
		}
		fr, err := m.Rotor.Speed(peak.Tone)
		if err != nil {
			return err
		}
		m.Peak = &ShaftPeak{peak.T, peak.TLo95, peak.THi95, fr}
		return checkFinite("the peak", fr, Exact(peak.T, "s"), Exact(peak.TLo95, "s"), Exact(peak.THi95, "s"))
	}
	return fmt.Errorf("tacho: unknown verdict %q", track.Verdict)
}

// derive puts the top speed in other words.
func (m *Measurement) derive() error {
	fr, _ := m.Top()
	rpm, err := m.Rotor.RPM(fr)
	if err != nil {
		return err
	}
	m.Derived = &Derived{RPM: rpm}
	if !m.Rotor.HasRadius() {
		return nil
	}
	tip, err := m.Rotor.TipSpeed(fr)
	if err != nil {
		return err
	}
	load, err := m.Rotor.GLoad(fr)
	if err != nil {
		return err
	}
	m.Derived.Tip, m.Derived.GLoad = &tip, &load
	return checkFinite("what follows from the speed", rpm, tip, load)
}

func (m *Measurement) readPoints(points []TrackPoint) error {
	z := Hertz(m.Rotor.Pulses)
	m.Points = make([]SpeedPoint, 0, len(points))
	for i, p := range points {
		q := SpeedPoint{p.T, RevPerSec(p.Tone / z), RevPerSec(p.Lo95 / z), RevPerSec(p.Hi95 / z)}
		for _, x := range []float64{q.T, float64(q.Fr), float64(q.Lo95), float64(q.Hi95)} {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				return fmt.Errorf("tacho: point %d of the track holds a NaN or an infinity: %+v", i, p)
			}
		}
		m.Points = append(m.Points, q)
	}
	return nil
}

func (m *Measurement) readAlternatives(alternatives []Alternative) error {
	z := Hertz(m.Rotor.Pulses)
	for _, a := range alternatives {
		if fr := float64(a.Tone / z); math.IsNaN(a.Odds) || math.IsNaN(fr) || math.IsInf(fr, 0) {
			return fmt.Errorf("tacho: the alternative %q holds a NaN or an infinity: %+v", a.Factor, a)
		}
		m.Alternatives = append(m.Alternatives, AlternativeSpeed{RevPerSec(a.Tone / z), a.Factor, math.Min(a.Odds, maxOdds)})
	}
	return nil
}

// checkFinite returns an error if a value or its interval is NaN or infinite.
func checkFinite(what string, values ...Value) error {
	for _, v := range values {
		lo, hi := v.CI95()
		for _, x := range []float64{v.X, lo, hi} {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				return fmt.Errorf("tacho: %s holds a NaN or an infinity: %+v", what, v)
			}
		}
	}
	return nil
}

// Top returns the speed that the measurement is about, in rev/s: the steady
// speed or the peak. It reports false if there is no reading.
func (m *Measurement) Top() (Value, bool) {
	switch {
	case m.Speed != nil:
		return *m.Speed, true
	case m.Peak != nil:
		return m.Peak.Speed, true
	}
	return Value{}, false
}
