package check_test

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/check"
)

// outcome runs f with a fresh ledger and returns what it printed and the failure
// it panicked with, nil if it did not.
func outcome(t *testing.T, f func(l *check.Ledger)) (printed string, failure *check.Failure, l *check.Ledger) {
	t.Helper()
	var out bytes.Buffer
	l = check.NewLedger("test")
	l.Out = &out
	func() {
		defer func() {
			switch v := recover().(type) {
			case nil:
			case *check.Failure:
				failure = v
			default:
				panic(v)
			}
		}()
		f(l)
	}()
	return out.String(), failure, l
}

func TestChecksHoldOrFail(t *testing.T) {
	speed := tacho.Measured(62.5, 0.17, "rev/s", "tone") // 95 % from 62.17 to 62.83
	cases := []struct {
		name string
		f    func(l *check.Ledger)
		ok   bool
		says []string // in the printed line
	}{
		{"near", func(l *check.Ledger) { l.Near("tip speed", 15.708, 15.7, 0.05, "common practice") }, true,
			[]string{"ok ", "tip speed", "15.708", "15.700", "common practice"}},
		{"near, at the tolerance", func(l *check.Ledger) { l.Near("x", 1.5, 1, 0.5, "s") }, true, nil},
		{"too far", func(l *check.Ledger) { l.Near("tip speed", 15.9, 15.7, 0.05, "common practice") }, false,
			[]string{"FAILED", "15.900", "differ by 0.2", "4 times the tolerance", "common practice"}},
		{"not a number", func(l *check.Ledger) { l.Near("x", math.NaN(), 1, 0.1, "s") }, false, []string{"not a number"}},
		{"infinite", func(l *check.Ledger) { l.Near("x", math.Inf(1), math.Inf(1), 0.1, "s") }, false, nil},
		{"zero tolerance", func(l *check.Ledger) { l.Near("x", 3, 3, 0, "s") }, true, nil},
		{"zero tolerance, off", func(l *check.Ledger) { l.Near("x", 3, math.Nextafter(3, 4), 0, "s") }, false, nil},
		{"negative tolerance", func(l *check.Ledger) { l.Near("x", 3, 3, -1, "s") }, false, []string{"tolerance is -1"}},
		{"tolerance not a number", func(l *check.Ledger) { l.Near("x", 3, 3, math.NaN(), "s") }, false, nil},
		{"quantity with unit", func(l *check.Ledger) { l.Near("x", tacho.RPM(3750), 3750, 1, "s") }, true, []string{"3750.0 rpm"}},
		{"two units", func(l *check.Ledger) { l.Near("x", tacho.RPM(60), tacho.RevPerSec(60), 1, "s") }, false, []string{"rpm", "rev/s", "convert"}},
		{"value", func(l *check.Ledger) { l.Near("x", speed, tacho.RevPerSec(62.4), 0.2, "s") }, true, []string{"62.50 rev/s"}},
		{"a text is no number", func(l *check.Ledger) { l.Near("x", "62", 62, 1, "s") }, false, []string{"string is not a number"}},
		{"nil is no number", func(l *check.Ledger) { l.Near("x", nil, 62, 1, "s") }, false, []string{"nil"}},
		{"percent", func(l *check.Ledger) { l.NearPercent("x", 100.4, 100, 0.5, "s") }, true, nil},
		{"percent of a negative number", func(l *check.Ledger) { l.NearPercent("x", -100.4, -100, 0.5, "s") }, true, nil},
		{"percent, off", func(l *check.Ledger) { l.NearPercent("x", 100.6, 100, 0.5, "s") }, false, nil},
		{"percent of nothing", func(l *check.Ledger) { l.NearPercent("x", 1, nil, 0.5, "s") }, false, nil},
		{"within", func(l *check.Ledger) { l.Within("x", 2, 1, 3, "s") }, true, []string{"1 to 3"}},
		{"within, at the end", func(l *check.Ledger) { l.Within("x", 3, 1, 3, "s") }, true, nil},
		{"within, outside", func(l *check.Ledger) { l.Within("x", 3.5, 1, 3, "s") }, false, []string{"0.5", "outside"}},
		{"within nothing", func(l *check.Ledger) { l.Within("x", 2, 3, 1, "s") }, false, []string{"empty"}},
		{"within, not a number", func(l *check.Ledger) { l.Within("x", math.NaN(), 1, 3, "s") }, false, nil},
		{"holds", func(l *check.Ledger) { l.Holds("x", speed, 62.8, "made so") }, true, []string{"62.17 to 62.83 rev/s", "62.80 rev/s"}},
		{"holds not", func(l *check.Ledger) { l.Holds("x", speed, 62.9, "made so") }, false, []string{"outside"}},
		{"holds, other unit", func(l *check.Ledger) { l.Holds("x", speed, tacho.RPM(3750), "made so") }, false, []string{"convert"}},
		{"holds nothing", func(l *check.Ledger) { l.Holds("x", nil, 1, "s") }, false, []string{"nil"}},
		{"equal counts", func(l *check.Ledger) { l.Equal("vanes", int64(5), 5, "counted") }, true, nil},
		{"equal, off", func(l *check.Ledger) { l.Equal("vanes", 5, 6, "counted") }, false, []string{"got 5, want 6"}},
		{"equal beyond floats", func(l *check.Ledger) { l.Equal("n", int64(1<<53), int64(1<<53+1), "s") }, false, nil},
		{"equal texts", func(l *check.Ledger) { l.Equal("key", "5", "5", "ITU-T Q.23") }, true, nil},
		{"text and number", func(l *check.Ledger) { l.Equal("key", "5", 5, "ITU-T Q.23") }, false, nil},
		{"equal lists", func(l *check.Ledger) { l.Equal("orders", []int{7, 14, 21}, []int{7, 14, 21}, "s") }, true, nil},
		{"true", func(l *check.Ledger) { l.True("audible", true, "s") }, true, nil},
		{"not true", func(l *check.Ledger) { l.True("audible", false, "s") }, false, []string{"got no, want yes"}},
		{"fails", func(l *check.Ledger) { l.Fails("refuses", errors.New("no rotor"), "s") }, true, []string{"no rotor"}},
		{"does not fail", func(l *check.Ledger) { l.Fails("refuses", nil, "s") }, false, []string{"no error"}},
	}
	for _, c := range cases {
		printed, failure, l := outcome(t, c.f)
		if (failure == nil) != c.ok {
			t.Errorf("%s: holds %v, want %v; printed %q", c.name, failure == nil, c.ok, printed)
		}
		if strings.Count(printed, "\n") != 1 {
			t.Errorf("%s: printed %q, want one line", c.name, printed)
		}
		for _, s := range c.says {
			if !strings.Contains(printed, s) {
				t.Errorf("%s: printed %q, which does not say %q", c.name, printed, s)
			}
		}
		if failure != nil && (!strings.HasPrefix(failure.Error(), "check failed: ") || failure.Entry.Why == "") {
			t.Errorf("%s: error %q", c.name, failure)
		}
		if n := len(l.Entries()); n != 1 || l.Entries()[0].OK != c.ok {
			t.Errorf("%s: the ledger holds %d entries", c.name, n)
		}
		if err := l.Err(); (err == nil) != c.ok {
			t.Errorf("%s: Err() = %v", c.name, err)
		}
	}
}

func TestEveryCheckWorksWithoutALedger(t *testing.T) {
	fails := func(name string, f func()) {
		t.Helper()
		defer func() {
			if _, ok := recover().(*check.Failure); !ok {
				t.Errorf("%s: a wrong value did not fail", name)
			}
		}()
		f()
	}
	v := tacho.Measured(1, 0.1, "m", "x")
	fails("Near", func() { check.Near("x", 1, 2, 0.1, "s") })
	fails("NearPercent", func() { check.NearPercent("x", 1, 2, 1, "s") })
	fails("Within", func() { check.Within("x", 1, 2, 3, "s") })
	fails("Holds", func() { check.Holds("x", v, 2, "s") })
	fails("Equal", func() { check.Equal("x", 1, 2, "s") })
	fails("True", func() { check.True("x", false, "s") })
	fails("Fails", func() { check.Fails("x", nil, "s") })
	check.Near("x", 1, 1, 0.1, "s")
	check.Holds("x", v, 1.1, "s")
}

func TestLedgerClosesOnlyWhenAllIsWell(t *testing.T) {
	closes := func(l *check.Ledger) (err error) {
		defer func() { err, _ = recover().(error) }()
		l.Close()
		return nil
	}
	if err := closes(check.NewLedger("empty")); err == nil || !strings.Contains(err.Error(), "no checks") {
		t.Errorf("an empty ledger closes with %v", err)
	}
	_, _, l := outcome(t, func(l *check.Ledger) {
		l.Near("a", 1, 1, 0.1, "s")
		l.Near("b", 1, 2, 0.1, "s")
		t.Error("the cell ran on after a failed check")
	})
	var failure *check.Failure
	if err := closes(l); err == nil || !errors.As(err, &failure) || failure.Entry.What != "b" {
		t.Errorf("a ledger with a failed check closes with %v", err)
	}
	// Put right and run again, the check takes the place of the failed one.
	l.Near("b", 2, 2, 0.1, "s")
	if err := closes(l); err != nil {
		t.Errorf("put right, the ledger closes with %v", err)
	}
	if n := len(l.Entries()); n != 2 {
		t.Errorf("%d entries after running a cell again, want 2", n)
	}
}

func TestSummaryCountsSourcesAndEscapes(t *testing.T) {
	_, _, l := outcome(t, func(l *check.Ledger) {
		l.Near("first", 1, 1, 0.1, "NIST SP 811")
		l.Near("second <b>", 2, 2, 0.1, "a & b")
		l.Near("third", 3, 3, 0.1, "NIST SP 811")
		l.True("fourth", true, "")
	})
	s := l.Summary()
	if len(s.Sources) != 3 || s.Sources[0] != (check.SourceCount{Source: "NIST SP 811", Checks: 2}) || s.Passed() != 4 {
		t.Errorf("sources %v, %d passed", s.Sources, s.Passed())
	}
	text, page := l.String(), l.HTML()
	for _, says := range []string{"all 4 checks hold", "NIST SP 811 (2)", "no source given (1)"} {
		if !strings.Contains(text, says) {
			t.Errorf("the text does not say %q:\n%s", says, text)
		}
	}
	if strings.Contains(page, "<b>\"") || !strings.Contains(page, "second &lt;b&gt;") || !strings.Contains(page, "a &amp; b") {
		t.Errorf("texts are not escaped:\n%s", page)
	}
	if n := strings.Count(page, "<tr>"); n != 5 {
		t.Errorf("%d rows in the table, want a head and 4", n)
	}
}

func TestAnswersAreJudgedButNotGiven(t *testing.T) {
	const what, step = "shaft speed", 0.1
	seal := check.Seal(what, tacho.RevPerSec(62.5), step)
	if strings.Contains(seal, "62") && strings.Contains(seal, "625") {
		t.Errorf("the seal %q gives the answer away", seal)
	}
	cases := []struct {
		got   any
		right bool
		says  string
	}{
		{62.5, true, "right"},
		{tacho.RevPerSec(62.54), true, "right"},
		{62.46, true, "right"},
		{tacho.Measured(62.5, 0.1, "rev/s", "tone"), true, "right"},
		{62.66, false, "not yet"},
		{62.34, false, "not yet"},
		{3750, false, "60 times too large"},
		{125.0, false, "twice"},
		{31.25, false, "half"},
		{62.5 * 2 * math.Pi, false, "radians"},
		{-62.5, false, "sign"},
		{0, false, "no answer yet"},
		{math.NaN(), false, "no answer yet"},
		{math.Inf(1), false, "not yet"},
		{1e300, false, "not yet"},
		{"sixty", false, "not a number"},
		{nil, false, "nil"},
	}
	for _, c := range cases {
		v := check.Answer(what, c.got, step, seal)
		if v.Right != c.right || !strings.Contains(v.Text, c.says) {
			t.Errorf("Answer(%v) = %v, %q; want %v, %q", c.got, v.Right, v.Text, c.right, c.says)
		}
		if !c.right && strings.Contains(v.Text, "62.5") {
			t.Errorf("Answer(%v) gives it away: %q", c.got, v.Text)
		}
	}
	if check.Seal("another", 62.5, step) == seal {
		t.Error("the name is not part of the seal")
	}
	if v := check.Answer(what, 62.5, 0, seal); v.Right {
		t.Error("a step of zero is accepted")
	}
	for _, bad := range []func(){func() { check.Seal("x", 0, 1) }, func() { check.Seal("x", 5, 0) }, func() { check.Seal("x", math.NaN(), 1) }, func() { check.Seal("x", "5", 1) }} {
		func() {
			defer func() {
				if recover() == nil {
					t.Error("sealed what cannot be an answer")
				}
			}()
			bad()
		}()
	}
}

// Every answer within half a step is right and every one beyond a step and a half
// is not, wherever the answer lies between two steps.
func TestAnswerStepsAreFair(t *testing.T) {
	for i := range 200 {
		want := 5 + float64(i)*0.0137
		seal := check.Seal("x", want, 0.2)
		for d := -0.6; d <= 0.6; d += 0.013 {
			right := check.Answer("x", want+d, 0.2, seal).Right
			if math.Abs(d) < 0.0999 && !right {
				t.Fatalf("%v for %v is refused", want+d, want)
			}
			if math.Abs(d) > 0.3001 && right {
				t.Fatalf("%v for %v is accepted", want+d, want)
			}
		}
	}
}

func TestChoices(t *testing.T) {
	seal := check.SealChoice("which line", "b")
	for got, right := range map[string]bool{"b": true, " B ": true, "a": false, "": false} {
		if v := check.Choice("which line", got, seal); v.Right != right {
			t.Errorf("Choice(%q) = %v", got, v)
		}
	}
}
