package live

import (
	"fmt"
	"math"
	"strings"

	"rotorhum/tacho"
)

// Setup says whether a room and a microphone will hear a rotor, and what to change
// before the trial.
type Setup struct {
	// Findings are what was looked at, in order.
	Findings []Finding
	// Rate is the sampling rate in hertz and Seconds the length that was heard.
	Rate, Seconds float64
	// Level and Peak are the RMS level, in dB relative to a sine of full scale, and
	// the largest sample in dB relative to full scale. Floor is the level of the
	// quietest tenth of the time: the noise of room and microphone.
	Level, Peak, Floor float64
	// Hum is the frequency of an electric supply that is heard, 0 for none, and
	// HumLevel its level in dB relative to a sine of full scale.
	Hum      tacho.Hertz
	HumLevel float64
	// Low and High bound what the microphone and its recorder pass on, in hertz:
	// Low is 0 and High half the sampling rate where nothing is cut off.
	Low, High tacho.Hertz
	// Least is the level, in dB relative to a sine of full scale, that the hum of a
	// rotor with a pulse rate in the range must have to be followed in this noise.
	Least float64
	// Speed is the shaft speed in rev/s of a rotor that was heard, nil for none.
	Speed *tacho.Value
}

// Finding is one thing that was looked at.
type Finding struct {
	// About names it in a word or two.
	About string
	// Good reports that nothing need be changed.
	Good bool
	// Says is what was found, Do what to change; Do is empty where all is well.
	Says, Do string
}

// String returns the finding in one line.
func (f Finding) String() string {
	mark := "ok    "
	if !f.Good {
		mark = "change"
	}
	s := fmt.Sprintf("%s  %-15s %s", mark, f.About, f.Says)
	if f.Do != "" {
		s += ": " + f.Do
	}
	return s
}

// OK reports whether nothing need be changed.
func (s *Setup) OK() bool {
	for _, f := range s.Findings {
		if !f.Good {
			return false
		}
	}
	return true
}

// String returns the findings, a line each.
func (s *Setup) String() string {
	var b strings.Builder
	for _, f := range s.Findings {
		fmt.Fprintln(&b, f)
	}
	return b.String()
}

// checkSeconds is the least length of sound for a check, mostCheckSeconds what is
// looked at of a longer one: its end.
const checkSeconds, mostCheckSeconds = 2.0, 30.0

// Check looks at some seconds of sound, of the room as it is or with the rotor
// running, and says what to change so that a rotor with a pulse rate in opt.Range
// can be heard: level, clipping, noise, the hum of the supply, the sampling rate,
// and the band that microphone and recorder pass on. It looks at one channel,
// opt.Channel or the first.
//
// It returns ErrTooShort for less than two seconds, ErrOption for options out of
// range, and errors of reading.
func Check(rec *tacho.Recording, opt tacho.Options) (*Setup, error) {
	if rec == nil {
		return nil, fmt.Errorf("%w: a check needs a recording", tacho.ErrNoSamples)
	}
	given := opt.Range
	opt, err := opt.For(rec.Rate, rec.Channels)
	if err != nil {
		return nil, err
	}
	if rec.Seconds() < checkSeconds {
		return nil, fmt.Errorf("%w: %.2g s of sound; a check needs at least %g s", tacho.ErrTooShort, rec.Seconds(), checkSeconds)
	}
	n := min(rec.Frames, int(mostCheckSeconds*rec.Rate))
	x := make([]float64, n)
	if _, err := rec.Block(max(0, opt.Channel-1), rec.Frames-n, x); err != nil {
		return nil, err
	}
	s := &Setup{Rate: rec.Rate, Seconds: float64(n) / rec.Rate}
	heard, err := s.listen(x, opt)
	if err != nil {
		return nil, err
	}
	if s.loudness(x, heard != nil) {
		return s, nil // there is nothing to look at
	}
	clean, fs, err := s.hum(x)
	if err != nil {
		return nil, err
	}
	s.rate(given, opt)
	low := noiseOf(clean, fs)
	s.reach(noiseOf(x, rec.Rate), low, heard != nil, opt)
	s.rotor(heard, low, opt)
	return s, nil
}

// listen follows a rotor through x and returns the last reading, nil if there is
// no rotor for most of the time.
func (s *Setup) listen(x []float64, opt tacho.Options) (*Reading, error) {
	f, err := New(s.Rate, opt)
	if err != nil {
		return nil, err
	}
	samples := make([]float32, len(x))
	for i, v := range x {
		samples[i] = float32(v)
	}
	var last Reading
	heard, total := 0, 0
	for _, r := range f.Push(samples) {
		total++
		if r.Heard {
			last = r
			heard++
		}
	}
	if 3*heard < total {
		return nil, nil
	}
	return &last, nil
}

// add adds a finding.
func (s *Setup) add(good bool, about, says, do string) {
	if good {
		do = ""
	}
	s.Findings = append(s.Findings, Finding{About: about, Good: good, Says: says, Do: do})
}

// The levels that are asked for, in dB: see the findings.
const (
	tooSoft     = -50.0 // the loudest sample
	tooNoisy    = -35.0 // the quietest tenth of the time
	humTooLoud  = -6.0  // of the hum over the rest of the quietest time
	humNoMatter = -75.0 // a hum below this is nothing
)

// loudness looks at level, clipping and, where no rotor turns, noise; it reports
// whether there is no sound.
func (s *Setup) loudness(x []float64, turning bool) (silent bool) {
	piece := int(Step * s.Rate)
	var each []float64
	clipped, zero, squares, peak := 0, 0, 0.0, 0.0
	for from := 0; from+piece <= len(x); from += piece {
		part := x[from : from+piece]
		l, p, c := levels(part)
		each = append(each, l)
		if c {
			clipped++
		}
		peak = math.Max(peak, math.Pow(10, p/20))
		same := true
		for _, v := range part {
			squares += v * v
			same = same && v == part[0]
		}
		if same {
			zero++
		}
	}
	s.Level = 10 * math.Log10(2*squares/float64(len(each)*piece))
	s.Peak = 20 * math.Log10(peak)
	s.Floor = quantile(each, 0.1)
	if zero == len(each) {
		s.add(false, "sound", "there is none at all", "choose another microphone, or switch this one on")
		return true
	}
	if float64(zero) > 0.1*float64(len(each)) {
		s.add(false, "sound", fmt.Sprintf("it is cut out for %.0f %% of the time", 100*float64(zero)/float64(len(each))),
			"switch off the suppression of noise in the recorder: it takes a soft hum for noise")
	}
	switch {
	case clipped > 0:
		s.add(false, "level", fmt.Sprintf("clipped in %.0f %% of the time", math.Ceil(100*float64(clipped)/float64(len(each)))), "turn the gain down or move the microphone away")
	case s.Peak < tooSoft:
		s.add(false, "level", fmt.Sprintf("the loudest sample lies at %s", levelText(s.Peak)), "turn the gain up or move the microphone closer")
	default:
		s.add(true, "level", fmt.Sprintf("%s, the loudest sample at %s", levelText(s.Level), levelText(s.Peak)), "")
	}
	s.add(turning || s.Floor < tooNoisy, "noise", fmt.Sprintf("%s when it is quietest", levelText(s.Floor)), "close the window, switch off fans, keep wind and air jets off the microphone, or turn the gain down if the rotor is loud")
	return false
}

// hum looks for the electric supply, and returns the sound without it, at its own
// rate.
func (s *Setup) hum(x []float64) (clean []float64, fs float64, err error) {
	src, err := sourceOf(x, s.Rate, workingRate)
	if err != nil {
		return nil, 0, err
	}
	found, err := src.FindHum()
	if err != nil {
		return nil, 0, err
	}
	low, err := src.Block(nil, 0, src.Frames)
	if err != nil || found == nil {
		s.add(true, "mains hum", "none", "")
		return low[0], src.Rate, err
	}
	s.Hum = tacho.Hertz(found.Base)
	power := 0.0
	for m := 1; m <= humLines && float64(m)*found.Base < 0.45*src.Rate; m++ {
		a := lineOf(low[0], float64(m)*found.Base/src.Rate)
		power += (real(a)*real(a) + imag(a)*imag(a)) / 2
	}
	s.HumLevel = 10 * math.Log10(2*power)
	quiet := math.Pow(10, s.Floor/10) / 2
	rest := math.Max(quiet-power, 1e-3*quiet)
	over := 10 * math.Log10(power/rest)
	s.add(over < humTooLoud || s.HumLevel < humNoMatter, "mains hum",
		fmt.Sprintf("%.2f Hz and multiples, %s", float64(s.Hum), levelText(s.HumLevel)),
		"move away from lamps, transformers and chargers, run a laptop from its battery, use a shielded cable; a rotor that turns with the supply cannot be told from it")
	if err := src.Remove(found); err != nil {
		return nil, 0, err
	}
	low, err = src.Block(low, 0, src.Frames)
	return low[0], src.Rate, err
}

// rate looks at the sampling rate.
func (s *Setup) rate(given tacho.Range, opt tacho.Options) {
	says := fmt.Sprintf("%g Hz", s.Rate)
	switch {
	case given != (tacho.Range{}) && s.Rate < 2.3*float64(opt.Range.Hi):
		s.add(false, "sampling rate", says, fmt.Sprintf("choose %g Hz or more: pulse rates up to %.4g Hz are expected", nextRate(2.3*float64(opt.Range.Hi)), float64(opt.Range.Hi)))
	case s.Rate < workingRate:
		s.add(false, "sampling rate", says, "choose 44100 or 48000 Hz: the multiples of the pulse rate tell it from other sounds")
	default:
		s.add(true, "sampling rate", says, "")
	}
}

// nextRate returns the usual sampling rate at or above least.
func nextRate(least float64) float64 {
	for _, r := range []float64{16000, 32000, 44100, 48000, 96000, 192000} {
		if r >= least {
			return r
		}
	}
	return math.Ceil(least)
}
