package check

import (
	"fmt"
	"io"
	"math"
	"os"
	"reflect"
	"sync"

	"rotorhum/tacho"
)

// Ledger keeps the checks of a lesson, in the order in which they were first
// made. A check made again under the same name, because its cell was run again,
// takes the place of the earlier one. Its methods may be called from several
// goroutines. Make one with [NewLedger].
type Ledger struct {
	// Out is where each check prints its line; nil means the standard output.
	Out io.Writer

	title   string
	mu      sync.Mutex
	entries []Entry
	quiet   bool // of the functions without a ledger
}

// Entry is one check: what was compared, with what, and how it ended. The texts
// carry their units and are rounded to the tolerance.
type Entry struct {
	What   string
	Got    string
	Want   string
	Source string
	OK     bool
	// Why says how far off a failed check is, or what is wrong with its numbers.
	Why string
}

// Failure is the panic of a check that fails. It is an error, so a kernel or a
// test can show its message.
type Failure struct{ Entry Entry }

// Error says what was compared and how far off it is.
func (f *Failure) Error() string {
	return "check failed: " + f.Entry.claim() + ": " + f.Entry.Why
}

// NewLedger returns an empty ledger with a title, usually that of the lesson.
func NewLedger(title string) *Ledger { return &Ledger{title: title} }

// Near checks that got is within tol of want, in the unit of both. tol must not
// be negative; 0 asks for equality. It panics with a [*Failure] when the check
// fails.
func (l *Ledger) Near(what string, got, want any, tol float64, source string) {
	l.record(near(what, got, want, tol, source))
}

// NearPercent checks that got is within percent % of want.
func (l *Ledger) NearPercent(what string, got, want any, percent float64, source string) {
	w, err := numberOf(want)
	if err != nil {
		l.record(Entry{What: what, Source: source}.unreadable(err))
		return
	}
	l.record(near(what, got, want, math.Abs(w.x)*percent/100, source))
}

// Within checks that got lies from lo to hi, ends included.
func (l *Ledger) Within(what string, got, lo, hi any, source string) {
	l.record(within(what, got, lo, hi, source))
}

// Holds checks that the 95 % interval of a measured value, lo to hi by its
// method CI95, holds the truth. A tacho.Value has such a method.
func (l *Ledger) Holds(what string, measured Interval, truth any, source string) {
	l.record(holds(what, measured, truth, source))
}

// Interval is what [Ledger.Holds] takes: something with a 95 % interval.
type Interval interface{ CI95() (lo, hi float64) }

// Equal checks that got and want are the same: counts, texts, truth values, or
// lists of them. Numbers are compared by value whatever their Go types are.
func (l *Ledger) Equal(what string, got, want any, source string) {
	l.record(equal(what, got, want, source))
}

// True checks that ok holds.
func (l *Ledger) True(what string, ok bool, source string) {
	l.record(Entry{What: what, Got: yesNo(ok), Want: "yes", Source: source, OK: ok}.because("it is not so"))
}

// Fails checks that err is an error: that something refuses what it should.
func (l *Ledger) Fails(what string, err error, source string) {
	e := Entry{What: what, Want: "an error", Source: source, OK: err != nil, Got: "no error"}
	if err != nil {
		e.Got = "error: " + err.Error()
	}
	l.record(e.because("no error came"))
}

// near, within, holds and equal make the entries of the checks named so.
func near(what string, got, want any, tol float64, source string) Entry {
	e := Entry{What: what, Source: source}
	n, err := numbersOf(got, want)
	if err == nil && !(tol >= 0) {
		err = fmt.Errorf("the tolerance is %v; give zero or more", tol)
	}
	if err != nil {
		return e.unreadable(err)
	}
	e.Got, e.Want = n[0].rounded(tol), n[1].rounded(tol)
	if tol > 0 {
		e.Want = tacho.Measured(n[1].x, tol, n[1].unit, "tolerance").String()
	}
	off := math.Abs(n[0].x - n[1].x)
	e.OK = off <= tol
	why := "they differ by " + number{off, n[0].unit}.rounded(off/10)
	if tol > 0 && !math.IsNaN(off) {
		why += fmt.Sprintf(", %.3g times the tolerance", off/tol)
	}
	return e.because(why)
}

func within(what string, got, lo, hi any, source string) Entry {
	e := Entry{What: what, Source: source}
	n, err := numbersOf(got, lo, hi)
	if err == nil && !(n[1].x <= n[2].x) {
		err = fmt.Errorf("the range from %v to %v is empty", n[1].x, n[2].x)
	}
	if err != nil {
		return e.unreadable(err)
	}
	x, a, b := n[0], n[1], n[2]
	step := (b.x - a.x) / 20
	e.Got = x.rounded(step)
	e.Want = number{a.x, ""}.rounded(0) + " to " + b.rounded(0)
	e.OK = x.x >= a.x && x.x <= b.x
	off := math.Max(a.x-x.x, x.x-b.x)
	return e.because("it lies " + number{off, x.unit}.rounded(off/10) + " outside")
}

func holds(what string, measured Interval, truth any, source string) Entry {
	e := Entry{What: what, Source: source}
	if r := reflect.ValueOf(measured); !r.IsValid() || r.Kind() == reflect.Pointer && r.IsNil() {
		return e.unreadable(fmt.Errorf("there is no measured value, only nil"))
	}
	unit := number{}
	if _, ok := measured.(tacho.Value); ok {
		unit, _ = numberOf(measured)
	}
	n, err := numbersOf(truth, tacho.Exact(0, unit.unit))
	if err != nil {
		return e.unreadable(err)
	}
	t := n[0]
	lo, hi := measured.CI95()
	step := (hi - lo) / 4 // a 95 % interval is four standard uncertainties wide
	e.Got = number{lo, ""}.rounded(step) + " to " + number{hi, t.unit}.rounded(step)
	e.Want = "to hold " + t.rounded(step)
	e.OK = lo <= t.x && t.x <= hi
	off := math.Max(lo-t.x, t.x-hi)
	return e.because("it lies " + number{off, t.unit}.rounded(off/10) + " outside")
}

func equal(what string, got, want any, source string) Entry {
	e := Entry{What: what, Source: source}
	g, errG := numberOf(got)
	w, errW := numberOf(want)
	if errG == nil && errW == nil {
		n, err := numbersOf(got, want)
		if err != nil {
			return e.unreadable(err)
		}
		e.Got, e.Want = n[0].rounded(0), n[1].rounded(0)
		e.OK = g.x == w.x
		if a, b := reflect.ValueOf(got), reflect.ValueOf(want); a.CanInt() && b.CanInt() {
			e.OK = a.Int() == b.Int() // floats cannot tell the largest apart
		}
	} else {
		e.Got, e.Want = fmt.Sprint(got), fmt.Sprint(want)
		e.OK = reflect.DeepEqual(got, want)
	}
	return e.because("they are not the same")
}

// because keeps why for an entry that failed.
func (e Entry) because(why string) Entry {
	if !e.OK {
		e.Why = why
	}
	return e
}

// unreadable is the entry of a check that could not compare.
func (e Entry) unreadable(err error) Entry {
	e.OK, e.Why = false, err.Error()
	return e
}

func yesNo(ok bool) string {
	if ok {
		return "yes"
	}
	return "no"
}

// record keeps the entry, prints its line and panics if it failed.
func (l *Ledger) record(e Entry) {
	if !l.quiet {
		l.keep(e)
	}
	out := l.Out
	if out == nil {
		out = os.Stdout
	}
	fmt.Fprintln(out, e)
	if !e.OK {
		panic(&Failure{e})
	}
}

func (l *Ledger) keep(e Entry) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for i, old := range l.entries {
		if old.What == e.What {
			l.entries[i] = e
			return
		}
	}
	l.entries = append(l.entries, e)
}

// Entries returns a copy of the checks made so far.
func (l *Ledger) Entries() []Entry {
	l.mu.Lock()
	defer l.mu.Unlock()
	return append([]Entry(nil), l.entries...)
}

// Err returns an error when a check of the ledger has failed, or when none was
// made: a lesson that checks nothing proves nothing.
func (l *Ledger) Err() error {
	entries := l.Entries()
	failed := 0
	first := Entry{}
	for _, e := range entries {
		if !e.OK {
			if failed == 0 {
				first = e
			}
			failed++
		}
	}
	switch {
	case len(entries) == 0:
		return fmt.Errorf("no checks were made in %q", l.title)
	case failed > 0:
		return fmt.Errorf("%d of %d checks failed in %q, first: %w", failed, len(entries), l.title, &Failure{first})
	}
	return nil
}

// Close ends the lesson: it returns the summary to be shown, and panics with the
// error of [Ledger.Err] if there is one, so that no lesson passes whose checks
// failed on the way. Put it on the last line of the last cell.
func (l *Ledger) Close() Summary {
	if err := l.Err(); err != nil {
		panic(err)
	}
	return l.Summary()
}
