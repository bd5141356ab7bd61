package exam

import (
	"fmt"
	"math"
	"sort"
	"time"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// gross is the relative error above which a reading is of something else.
const gross = 0.03

// Result says what came of a case.
type Result string

// The results.
const (
	Right  Result = "right"
	Wrong  Result = "wrong"  // a reading of something else
	Missed Result = "missed" // no reading, although there is a rotor
	False  Result = "false"  // a reading without a rotor
	Failed Result = "failed" // the engine returned an error
)

// Outcome is what came of one case.
type Outcome struct {
	Class, Group string
	Draw         int
	Seed         uint64
	About        string
	Result       Result
	Verdict      tacho.Verdict
	Said         string // reasons, warnings or error
	Err          error  `json:"-"`

	// Speed is the one speed of a steady rotor, if the verdict was steady.
	Speed *Estimate
	// Track sums up the points of a rotor's track.
	Track *TrackScore
	// Peak and PeakTime are set where there is a peak, PeakTime where it has one
	// moment.
	Peak, PeakTime *Estimate

	// Best are the engine's first alternatives.
	Best []string
	// Instead says what a wrong reading is of: a multiple such as "1/2", "other
	// rotor" or "something else". RightOdds are the odds against the right speed,
	// if it is among the alternatives.
	Instead   string
	RightOdds float64
	// Unsure says that a wrong reading was called hardly likelier than the right
	// one.
	Unsure bool

	// Heard is how long a rotor was reported; Seconds the recording's length.
	Heard, Seconds float64
	// Wall is the time the engine took.
	Wall time.Duration `json:"-"`
}

// Estimate is a number that was estimated.
type Estimate struct {
	Value, Lo, Hi, Truth float64
	// Bound is the least standard deviation that noise leaves; 0 if unknown.
	Bound float64
}

// Err returns the error, Relative the error over the truth.
func (e Estimate) Err() float64      { return e.Value - e.Truth }
func (e Estimate) Relative() float64 { return e.Err() / e.Truth }

// Holds reports whether the interval holds the truth.
func (e Estimate) Holds() bool { return e.Lo <= e.Truth && e.Truth <= e.Hi }

// z is the error over the standard uncertainty that the interval states.
func (e Estimate) z() float64 { return e.Err() / ((e.Hi - e.Lo) / (2 * 1.959964)) }

// TrackScore compares a track with the truth.
type TrackScore struct {
	Points, Gross, Holding int
	// Standstill counts the points reported while the rotor rested.
	Standstill int
	// Sounding is how long the rotor could be heard, Covered how much of that has
	// points, GrossTime how long points were grossly wrong.
	Sounding, Covered, GrossTime float64
	// Square is the sum of the squared relative errors of all points that are not
	// gross.
	Square float64
	// Of the points that a local chirp bound exists for, in hertz squared: the sum
	// of squared errors, of the bound for the best window, of the same for windows
	// of at most briefWindow (for a steady truth the harmonic bound in both
	// places), and of the stated standard uncertainties.
	Error, Best, Brief, Stated float64
	// Z is the median of the absolute error over the stated standard uncertainty.
	Z float64
	// Worst is the largest relative error, At its moment.
	Worst, At float64
}

// briefWindow is the longest window, in seconds, of the bound Brief.
const briefWindow = 0.25

// balancedOdds are odds at which the engine calls the evidence balanced.
const balancedOdds = 3

// steadyTolerance is the relative error up to which a steady speed is right.
const steadyTolerance = 0.01

// judge compares the track of a case with the truth.
func judge(k Case, take *synth.Take, track *tacho.Track) Outcome {
	o := Outcome{Group: k.Group, Verdict: track.Verdict, Seconds: take.Seconds()}
	for _, s := range append(append([]string(nil), track.Reasons...), track.Warnings...) {
		o.Said += s + "; "
	}
	for i, a := range track.Alternatives {
		if i < 3 {
			o.Best = append(o.Best, fmt.Sprintf("%s at 1:%.3g", a.Factor, a.Odds))
		}
	}
	o.Heard = float64(len(track.Points)) * track.Step
	reading := track.Verdict != tacho.VerdictNoReading
	switch {
	case k.Silent && reading:
		o.Result = False
		return o
	case k.Silent:
		o.Result = Right
		return o
	case !reading:
		o.Result = Missed
		return o
	}
	truth := take.Truth
	if k.Either && nearer(take.Others[0], truth, track) {
		truth = take.Others[0]
	}
	o.Track = scoreTrack(k, take, truth, track)
	o.Result = Right
	if o.Track.Gross*20 > o.Track.Points {
		o.Result = Wrong
	}
	if f := track.Steady; f != nil && truth.Steady {
		e := estimate(f.Tone, truth.PulseRate(0))
		if k.Bound {
			e.Bound = math.Hypot(steadyBound(k.Scene, take), clock(k)*e.Truth)
		}
		o.Speed = &e
		if math.Abs(e.Relative()) > steadyTolerance {
			o.Result = Wrong
		}
	}
	if k.Either && o.Result == Right && !namesOther(track, take, truth) {
		o.Result = Wrong
		o.Instead = "the other not listed"
	}
	if o.Result == Wrong && o.Instead == "" {
		o.Instead, o.RightOdds = instead(take, truth, track)
		o.Unsure = o.RightOdds > 0 && o.RightOdds <= balancedOdds
	}
	if p, err := track.Peak(); err == nil {
		e := estimate(p.Tone, truth.PeakSpeed*float64(truth.Pulses))
		o.Peak = &e
		if !truth.Steady && moment(truth, take.Seconds()) {
			o.PeakTime = &Estimate{Value: p.T, Lo: p.TLo95, Hi: p.THi95, Truth: truth.PeakTime}
		}
	}
	return o
}

func estimate(v tacho.Value, truth float64) Estimate {
	lo, hi := v.CI95()
	return Estimate{Value: v.X, Lo: lo, Hi: hi, Truth: truth}
}

// clock returns the relative standard uncertainty of the recorder's clock.
func clock(k Case) float64 { return math.Max(0, k.Options.ClockPPM) * 1e-6 }

// moment reports whether the top speed is reached at one moment only: not held,
// and not reached again, to within what a measurement could tell apart.
func moment(t synth.Truth, seconds float64) bool {
	const step, held, again = 0.001, 1e-9, 3e-5
	if t.Speed(t.PeakTime-0.015) >= t.PeakSpeed*(1-held) && t.PeakTime > 0.015 ||
		t.Speed(t.PeakTime+0.015) >= t.PeakSpeed*(1-held) && t.PeakTime < seconds-0.015 {
		return false
	}
	for _, way := range [...]float64{-step, step} {
		left := false
		for at := t.PeakTime; at >= 0 && at <= seconds; at += way {
			high := t.Speed(at) >= t.PeakSpeed*(1-again)
			if left && high {
				return false
			}
			left = left || !high
		}
	}
	return true
}

func scoreTrack(k Case, take *synth.Take, truth synth.Truth, track *tacho.Track) *TrackScore {
	s := &TrackScore{}
	for _, i := range truth.Sounding {
		s.Sounding += i.To - i.From
	}
	var bound *localBound
	once := 0.0 // the bound of a speed that is the same throughout
	if k.Bound && truth.PeakSpeed == take.Truth.PeakSpeed {
		bound = newLocalBound(k.Scene, take)
		once = steadyBound(k.Scene, take)
	}
	var z []float64
	for _, p := range track.Points {
		f := truth.PulseRate(p.T)
		if atRest(truth, p.T) {
			s.Standstill++
			continue
		}
		s.Points++
		if truth.Sounds(p.T) {
			s.Covered = math.Min(s.Sounding, s.Covered+track.Step)
		}
		if float64(p.Lo95) <= f && f <= float64(p.Hi95) {
			s.Holding++
		}
		e := float64(p.Tone)/f - 1
		if math.Abs(e) > s.Worst {
			s.Worst, s.At = math.Abs(e), p.T
		}
		u := float64(p.Hi95-p.Lo95) / (2 * 1.959964)
		z = append(z, math.Abs(float64(p.Tone)-f)/u)
		if math.Abs(e) > gross {
			s.Gross++
			s.GrossTime += track.Step
			continue
		}
		s.Square += e * e
		if bound != nil && truth.Sounds(p.T) {
			b, c := once, once
			if !truth.Steady {
				b, c = bound.at(p.T, math.Inf(1)), bound.at(p.T, briefWindow)
			}
			b, c = math.Hypot(b, clock(k)*f), math.Hypot(c, clock(k)*f)
			d := float64(p.Tone) - f
			s.Error += d * d
			s.Best += b * b
			s.Brief += c * c
			s.Stated += u * u
		}
	}
	if len(z) > 0 {
		sort.Float64s(z)
		s.Z = z[len(z)/2]
	}
	return s
}

// atRest reports whether the rotor stands still at t.
func atRest(truth synth.Truth, t float64) bool {
	for _, i := range truth.Standstill {
		if t > i.From && t < i.To {
			return true
		}
	}
	return false
}

// badness orders outcomes, worst first.
func (o Outcome) badness() float64 {
	b := map[Result]float64{Failed: 1e9, False: 1e6, Wrong: 1e6, Missed: 1e5}[o.Result]
	if o.Result == False {
		b += o.Heard
	}
	if t := o.Track; t != nil && t.Points > 0 {
		b += 1e4*float64(t.Gross)/float64(t.Points) + 100*float64(t.Standstill)/float64(t.Points+t.Standstill)
		b += 50 * math.Max(0, 1-float64(t.Holding)/float64(t.Points)-0.05)
	}
	if e := o.Speed; e != nil {
		b += math.Min(100, math.Abs(e.z()))
	}
	if e := o.Peak; e != nil {
		b += math.Min(100, math.Abs(e.z()))
	}
	if e := o.PeakTime; e != nil && !e.Holds() {
		b += 3 + 20*math.Abs(e.Err())
	}
	return b
}
