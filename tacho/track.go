package tacho

import (
	"fmt"
	"math"

	"rotorhum/tacho/internal/sound"
)

// Verdict is what a recording allows one to say.
type Verdict string

// The verdicts.
const (
	VerdictSteady    Verdict = "steady"     // one speed describes the recording
	VerdictVarying   Verdict = "varying"    // the speed changes with time
	VerdictNoReading Verdict = "no_reading" // no rotor can be claimed; the reasons say why
)

// Track is the pulse rate over time, with the stretches left out in which no
// rotor is heard, or its rate is not known to a twentieth.
type Track struct {
	// Verdict is what can be said, with the Reasons in plain sentences.
	Verdict Verdict
	Reasons []string
	// Points are in order of time, at a regular step inside each stretch.
	Points []TrackPoint
	// Step is the time between neighbouring points of one stretch, in seconds.
	Step float64
	// Seconds is the length of the recording.
	Seconds float64
	// Steady is the family of the whole recording when the verdict is steady,
	// else nil.
	Steady *Family
	// Top is the family around the highest speed, nil without a reading.
	Top *Family
	// Alternatives are the other readings of the same sound, the best first,
	// their tones at the moment of the peak.
	Alternatives []Alternative
	// Warnings are doubts that do not forbid the reading.
	Warnings []string

	peak *PeakSpeed
}

// TrackPoint is the pulse rate at one moment.
type TrackPoint struct {
	// T is the time from the start of the recording in seconds.
	T float64
	// Tone is the pulse rate, Lo95 and Hi95 its 95 % interval.
	Tone, Lo95, Hi95 Hertz
	// SNR is the power of the family over the noise around it, in dB.
	SNR float64
}

// trackStep is the time between the points of a track, in seconds.
const trackStep = 0.02

// Follow returns the pulse rate of rec over time.
//
// Short frames, warped so that a changing rate becomes a steady one, give
// candidates of rate and slope; the most credible course through them that
// obeys inertia, with stretches in which nothing is claimed, is then refined
// along the phase of all its lines together, smoothed with the inertia that
// the sound itself shows. The intervals are those of that phase fit for a motion
// without changes too fast to be heard, widened where the phases scatter more than
// their noise explains. Finally the whole stretch is laid out in orders of the course
// and the other readings (halves, thirds, multiples) are weighed on the same evidence.
//
// A recording in which no rotor can be claimed is not an error: the track then
// has the verdict VerdictNoReading and says why. It returns ErrOption for
// options out of range, the error of opt.Context when that ends, and errors of
// reading the file.
func Follow(rec *Recording, opt Options) (*Track, error) {
	opt, err := opt.normal(rec)
	if err != nil {
		return nil, err
	}
	opt.Progress = rising(opt.Progress)
	src, err := opt.source(rec)
	if err != nil {
		return nil, err
	}
	t, err := trackOf(rec, src, opt)
	if err == nil && opt.Progress != nil {
		opt.Progress(1)
	}
	return t, err
}

// trackOf is Follow for checked options and the sound they ask for.
//
// Whatever was said of the motion, rotors of any motion are followed first: only so are
// they told from what sounds with them, and are their multiples weighed. Where that finds
// nothing, or nothing that holds the one speed it was said to have, one rate is looked for
// in the whole, which may be too faint for short frames.
func trackOf(rec *Recording, src *sound.Source, opt Options) (*Track, error) {
	opt.see.told(src)
	t := &Track{Verdict: VerdictNoReading, Step: trackStep, Seconds: rec.Seconds()}
	if h := src.Hum(); h != nil && h.Only {
		return t.hum(), nil
	}
	found, err := rotors(src, opt)
	if err != nil {
		return nil, err
	}
	moves := false
	switch {
	case len(found.stretches) > 0:
		if told, err := t.tell(found.stretches, src, 1/rec.Rate, opt); err != nil || told != nil {
			return told, err
		}
		moves = true
	case opt.Motion == Steady: // then there is a rotor
	case found.below:
		t.Reasons = append(t.Reasons, belowRangeReason(opt))
		return t, nil
	case found.hum:
		return t.hum(), nil
	}
	if opt.Motion != Varying {
		f, err := wholeFamily(src, found.heard, opt)
		switch {
		case err == nil && opt.Motion == Auto && f.supplied():
			return t.hum(), nil
		case err == nil:
			t.setSteady(f, 0, opt)
			if moves {
				t.Warnings = append(t.Warnings, fmt.Sprintf("the speed does not seem to hold: the reading is that of %.3g s in the middle, and rests on the word that it is steady", f.Seconds))
			}
			return t, nil
		case err == errBelowRange:
			t.Reasons = append(t.Reasons, belowRangeReason(opt))
			return t, nil
		case err != ErrNoReading:
			t.Reasons = append(t.Reasons, err.Error())
			return t, nil
		}
	}
	switch {
	case moves:
		t.Reasons = append(t.Reasons, "what is heard does not hold one speed: measure it without saying that the motion is steady")
	case len(found.heard) > 0:
		t.Reasons = append(t.Reasons, "what is heard moves like a voice or steps like a tune, not like a thing with inertia")
	default:
		t.Reasons = append(t.Reasons, silence(rec, opt))
	}
	if h := src.Hum(); h != nil {
		t.Reasons = append(t.Reasons, fmt.Sprintf("the steady lines at multiples of %.2f Hz were taken for the hum of the electric supply; a rotor that turns exactly with it cannot be told from it", h.Base))
	}
	return t, nil
}

// search is what rotors found.
type search struct {
	stretches []*stretch
	// heard is all that was followed, a rotor's or not.
	heard heard
	// below and hum report that there was a rotor below the range, or a supply's hum.
	below, hum bool
}

// rotors returns the stretches in which rotors of any motion are heard, as they are in
// the end.
func rotors(src *sound.Source, opt Options) (found search, err error) {
	var in []*stretch
	if in, found.heard, err = usual.follow(src, opt); err != nil {
		return found, err
	}
	followed := len(in)
	if in, err = rightMultiple(src, in, opt.part(0, 0)); err != nil {
		return found, err
	}
	found.below = followed > 0 && len(in) == 0
	if in, found.hum, err = onlyRotors(src, in); err != nil {
		return found, err
	}
	if err = heardOut(src, in, opt.part(0, 0)); err != nil {
		return found, err
	}
	for i, s := range in {
		kept := *s
		kept.fit = s.fit.Swayed()
		in[i] = &kept
	}
	opt.see.told(in)
	found.stretches = in
	return found, nil
}

// tell returns the track of the stretches of rotors; nil if they do not hold the one
// speed that was told.
func (t *Track) tell(in []*stretch, src *sound.Source, tick float64, opt Options) (*Track, error) {
	n := *t
	if opt.Motion == Steady { // of one that is heard in pieces
		in = []*stretch{mostEvident(in)}
	}
	if err := n.describe(in, tick, opt); err != nil {
		return nil, err
	}
	if opt.Motion != Varying {
		if err := n.settle(in, src, opt); err != nil {
			return nil, err
		}
	}
	switch {
	case n.Steady == nil && opt.Motion == Steady:
		return nil, nil
	case n.Steady == nil:
		n.warnOfEdges(in)
	case opt.Motion == Auto && supply(n.Steady.Tone.X):
		return n.hum(), nil
	}
	return &n, nil
}

// wholeFamily returns the family of one rate in a recording in which no rotor was found,
// but other things were followed: where nobody said that there is one they must not say more
// than it does.
func wholeFamily(src *sound.Source, others heard, opt Options) (*Family, error) {
	said := opt.Motion == Steady
	if !said && others.evidence() > loudFamily {
		return nil, ErrNoReading
	}
	opt.faint = !said
	f, err := findFamily(src, 0, src.Frames, opt)
	if err == errBelowRange && !said && len(others) > 0 {
		return nil, ErrNoReading // nothing tells that it was a rotor
	}
	if err != nil {
		return nil, err
	}
	if !lasting(src, f) || src.Hum() != nil && leftOf(src.Hum(), f.Tone.X, f.power) {
		return nil, ErrNoReading
	}
	if !said {
		if rings, err := knocks(src); err != nil {
			return nil, err
		} else if rings {
			return nil, ErrNoReading
		}
	}
	// a rotor louder than that would have been followed
	if !said && (f.LogOdds > loudFamily || f.LogOdds < others.besides(f.Tone.X) || f.torn()) {
		return nil, ErrNoReading
	}
	return f, nil
}

// hum returns the track of a recording in which only the supply is heard.
func (t *Track) hum() *Track {
	return &Track{Verdict: VerdictNoReading, Step: t.Step, Seconds: t.Seconds, Reasons: []string{
		"what is heard is a steady tone at the frequency of the electric supply: a hum, as far as the sound tells; if a rotor makes it, say that the motion is steady"}}
}

// setSteady makes the track that of one speed, about which the speed of a moment may
// wander (rms, relative).
func (t *Track) setSteady(f *Family, wander float64, opt Options) {
	t.Verdict, t.Steady, t.Top = VerdictSteady, f, f
	t.Alternatives = f.Alternatives
	if f.Balanced {
		t.Warnings = append(t.Warnings, fmt.Sprintf("the sound speaks nearly as much for %s times this speed", f.Alternatives[0].Factor))
	}
	switch {
	case opt.Motion == Steady && f.LogOdds < 1:
		t.Warnings = append(t.Warnings, "the lines barely stand out of the noise: the reading rests on the word that there is a steady rotor")
	case f.LogOdds < 3:
		t.Warnings = append(t.Warnings, "the lines barely stand out of the noise, which may look like this once in a few hundred recordings: record for longer or hold the microphone closer")
	}
	if len(f.Lines) == 1 {
		t.Warnings = append(t.Warnings, "only one line stands out: a whistle, not a stack of harmonics; nothing in the sound itself tells whether it is the pulse rate")
	}
	hz, u := f.Tone.X, contribution(f.Tone, "tone")
	snr := 0.0
	for _, l := range f.Lines {
		snr += math.Pow(10, l.SNR/10)
	}
	lo, hi := opt.interval(hz, math.Hypot(u, wander*hz))
	t.Points = t.Points[:0]
	n := int(t.Seconds / trackStep)
	for i := 0; i <= n; i++ {
		t.Points = append(t.Points, TrackPoint{T: float64(i) * trackStep, Tone: Hertz(hz), Lo95: lo, Hi95: hi, SNR: 10 * math.Log10(snr)})
	}
	t.peak = &PeakSpeed{T: t.Seconds / 2, TLo95: 0, THi95: t.Seconds, Tone: f.Tone}
}

// contribution returns the named contribution to an uncertainty.
func contribution(v Value, name string) float64 {
	for _, p := range v.Parts {
		if p.Name == name {
			return math.Abs(p.U)
		}
	}
	return 0
}

// silence words the reason for finding nothing.
func silence(rec *Recording, opt Options) string {
	if math.IsInf(rec.PeakDBFS, -1) {
		return "the recording is digital silence: check that the right file and the right microphone were used"
	}
	if rec.PeakDBFS < -70 {
		return fmt.Sprintf("the recording is very quiet (its loudest sample lies %.0f dB below full scale): hold the microphone closer", -rec.PeakDBFS)
	}
	return fmt.Sprintf("no stack of lines between %.4g and %.4g Hz stands out of the noise for long enough", float64(opt.Range.Lo), float64(opt.Range.Hi))
}
