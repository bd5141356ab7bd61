package listen

import (
	"fmt"
	"strings"

	"rotorhum/tacho"
	"rotorhum/tacho/listen/live"
)

// Result is what a trial has left.
type Result struct {
	// Recording is everything that was heard, for the full measurement.
	Recording *tacho.Recording
	// File is where it is kept, "" for a rehearsal that was not kept.
	File string
	// Source names where the sound came from, and Format is its form.
	Source string
	Format Format
	// Seconds is how long was listened.
	Seconds float64
	// Ended says why the listening ended.
	Ended Ending
	// Trouble says what ended it before its time, "" if nothing did.
	Trouble string
	// Highest is the highest speed that was followed live; nil if no rotor was
	// heard.
	Highest *live.Highest
	// Points are the live speeds, in order of time, where a rotor was heard.
	Points []tacho.SpeedPoint
	// Readings counts the live readings, with a rotor or without.
	Readings int
	// Clipped reports that the sound was too loud for the recorder at some time.
	Clipped bool
	// Lost and Skipped are seconds of sound that were lost, and that were kept
	// but not followed live.
	Lost, Skipped float64
	// Warnings are doubts about the trial.
	Warnings []string
}

// Ending says why a listening ended.
type Ending string

// The endings.
const (
	EndedPlanned Ending = "planned" // the planned length was reached
	EndedAsked   Ending = "asked"   // somebody ended it
	EndedSound   Ending = "sound"   // the sound ended
	EndedTrouble Ending = "trouble" // Result.Trouble says what
)

func (r *Result) warn(format string, args ...any) {
	r.Warnings = append(r.Warnings, fmt.Sprintf(format, args...))
}

func (r *Result) trouble(err error) {
	if r.Trouble == "" {
		r.Trouble = err.Error()
	}
}

// String says in a few lines what was heard and where it is kept.
func (r *Result) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "heard %.2f s from %s (%v)", r.Seconds, r.Source, r.Format)
	if r.File != "" {
		fmt.Fprintf(&b, ", kept in %s", r.File)
	}
	b.WriteString("\n")
	if h := r.Highest; h != nil {
		rpm := h.Speed.Scale(60, "rpm")
		fmt.Fprintf(&b, "highest live %s = %s at %.2f s, 95 %% interval %s\n", h.Speed.Rounded(), rpm.Rounded(), h.T, h.Speed.Between())
	} else {
		b.WriteString("no rotor was heard live\n")
	}
	if r.Trouble != "" {
		fmt.Fprintf(&b, "trouble: %s\n", r.Trouble)
	}
	for _, w := range r.Warnings {
		fmt.Fprintf(&b, "note: %s\n", w)
	}
	if r.Clipped {
		b.WriteString("note: the sound was clipped: it was too loud for the microphone or its amplifier\n")
	}
	return strings.TrimRight(b.String(), "\n")
}

// Agreement compares the highest speed that was followed live with the one that
// the full measurement finds.
type Agreement struct {
	// Live and Full are the two speeds in rev/s.
	Live, Full tacho.Value
	// Apart is Live less Full, as a share of Full.
	Apart float64
	// Agree reports whether their 95 % intervals meet.
	Agree bool
}

// Against compares the live reading with a full measurement of the same sound.
// It returns tacho.ErrNoReading if either of them has no speed.
func (r *Result) Against(m *tacho.Measurement) (*Agreement, error) {
	full, ok := m.Top()
	switch {
	case !ok:
		return nil, fmt.Errorf("%w, in the full measurement", tacho.ErrNoReading)
	case r.Highest == nil:
		return nil, fmt.Errorf("%w that could be followed live", tacho.ErrNoReading)
	}
	a := &Agreement{Live: r.Highest.Speed, Full: full, Apart: r.Highest.Speed.X/full.X - 1}
	lo, hi := a.Live.CI95()
	from, to := full.CI95()
	a.Agree = lo <= to && from <= hi
	return a, nil
}

// String says in one line whether the two agree.
func (a *Agreement) String() string {
	word := "agree within their intervals"
	if !a.Agree {
		word = "differ by more than their intervals: the full measurement counts"
	}
	return fmt.Sprintf("live %s, full measurement %s (live is %+.2f %%): they %s", a.Live.Rounded(), a.Full.Rounded(), 100*a.Apart, word)
}
