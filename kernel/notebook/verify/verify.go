package verify

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"rotorhum/kernel/notebook"
	"rotorhum/kernel/notebook/compare"
	"rotorhum/kernel/provenance"
)

// Session is what a notebook runs on: a session that can be closed and that may
// know where its results come from.
type Session interface {
	notebook.Session
	Close() error
}

// Options says how to verify. Start must be set.
type Options struct {
	// Start starts a fresh session that works where the notebook's cells do.
	Start func() (Session, error)
	// Run is passed to each run.
	Run notebook.RunOptions
	// Made is passed to the comparison, see [compare.Options].
	Made string
	// Twice runs every notebook twice, whatever it holds.
	Twice bool
	// Slots bounds how many runs there are at one time over all notebooks that
	// share it: a run puts a value in and takes one out. nil is no bound.
	Slots chan struct{}
}

// CellReport is how one code cell fared.
type CellReport struct {
	// Number is the cell's place among those that ran, from 1.
	Number int
	ID     string
	// Took is the wall time of the first run of the cell.
	Took time.Duration
	// Failure says why the cell's end is a failure, "" if it is none.
	Failure string
	// Skipped says why nothing was compared, "" if something was.
	Skipped string
	// Stored: compared with what is stored, not with a second run.
	Stored bool
	// Differences are the places in which it shows something else.
	Differences []compare.Difference
	// Varies says, for a cell that differs, what in it may give something else
	// at every run, as far as its session could tell.
	Varies []string
}

// Report is what verifying a notebook found.
type Report struct {
	// Err says why the notebook could not be checked to its end: it is damaged,
	// for another kernel, or a cell failed. nil if it was.
	Err error
	// Cells are the code cells that ran, in order.
	Cells []CellReport
	// Runs is how many times the notebook was run.
	Runs int
	// Causes are the circumstances in which the run differs from the stored one
	// and that may be why its outputs do, the likeliest first.
	Causes []provenance.Difference
	// Notes are remarks that change no verdict.
	Notes []string
	// Updated is the notebook with the new outputs of all cells that differ, if
	// there are any and it was checked to its end; else nil.
	Updated *notebook.Notebook
}

// Differ returns how many cells differ.
func (r *Report) Differ() int {
	n := 0
	for _, c := range r.Cells {
		if len(c.Differences) > 0 {
			n++
		}
	}
	return n
}

// Compared returns how many cells agree or differ with what is stored, and how
// many with a second run.
func (r *Report) Compared() (stored, twice int) {
	for _, c := range r.Cells {
		switch {
		case c.Skipped != "":
		case c.Stored:
			stored++
		default:
			twice++
		}
	}
	return stored, twice
}

// Notebook verifies the notebook whose file holds text. What can be said is in
// the report; nothing is written.
func Notebook(ctx context.Context, text []byte, o Options) *Report {
	r := &Report{}
	stored, err := notebook.Read(text)
	if err != nil {
		r.Err = err
		return r
	}
	stored.Normalise()
	states := map[*notebook.Cell]compare.Statement{}
	claims, clean := 0, 0
	for i, c := range stored.Runnable() {
		if states[c], err = compare.StatementOf(c); err != nil {
			r.Err = fmt.Errorf("cell %d (%s): %w", i+1, c.ID, err)
			return r
		}
		if claimed(c) {
			claims++
		} else {
			clean++
		}
	}
	r.Runs = 1
	if clean > 0 || o.Twice {
		r.Runs = 2
	}
	fresh := make([]*run, r.Runs)
	var all sync.WaitGroup
	for i := range fresh {
		all.Go(func() { fresh[i] = runOnce(ctx, text, o) })
	}
	all.Wait()
	for _, f := range fresh {
		if f.err != nil {
			r.Err = f.err
			return r
		}
	}
	r.compare(stored, fresh, states, o)
	r.explain(stored, fresh[0].nb, claims > 0)
	if r.Err == nil && r.Differ() > 0 {
		r.Updated = updated(stored, fresh[0].nb, r)
	}
	return r
}

// claimed reports whether a cell holds a stored run.
func claimed(c *notebook.Cell) bool { return c.Count != 0 || len(c.Outputs) > 0 }

// run is one fresh run.
type run struct {
	nb  *notebook.Notebook
	res *notebook.Result
	err error
}

func runOnce(ctx context.Context, text []byte, o Options) *run {
	if o.Slots != nil {
		select {
		case o.Slots <- struct{}{}:
			defer func() { <-o.Slots }()
		case <-ctx.Done():
			return &run{err: errors.New("interrupted before it ran")}
		}
	}
	nb, err := notebook.Read(text)
	if err != nil {
		return &run{err: err}
	}
	if err := nb.CheckLanguage(); err != nil {
		return &run{err: err}
	}
	s, err := o.Start()
	if err != nil {
		return &run{err: err}
	}
	defer s.Close()
	res, err := nb.Run(ctx, s, o.Run)
	if errors.Is(err, context.Canceled) {
		err = errors.New("interrupted before its first cell")
	}
	return &run{nb, res, err}
}

// compare fills in what the cells fared.
func (r *Report) compare(stored *notebook.Notebook, fresh []*run, states map[*notebook.Cell]compare.Statement, o Options) {
	old := stored.Runnable()
	versions, varies, late := 0, 0, 0
	options := compare.Options{Made: o.Made, Versions: versionsSince(stored.Provenance(), fresh[0].nb.Provenance())}
	for i, first := range fresh[0].res.Runs {
		c := CellReport{Number: first.Number, ID: old[i].ID, Took: first.Took, Stored: claimed(old[i])}
		if first.Failed() {
			c.Failure = first.Fault.Error()
		}
		var second *notebook.CellRun
		if len(fresh) == 2 && i < len(fresh[1].res.Runs) {
			second = &fresh[1].res.Runs[i]
			if c.Failure == "" && second.Failed() {
				c.Failure = "in the second of two runs only: " + second.Fault.Error()
			}
		}
		switch s := states[old[i]]; {
		case c.Failure != "":
			c.Skipped = "it failed"
		case s.Varies:
			c.Skipped = "it states that its output varies"
			varies++
		case c.Stored:
			var n int
			c.Differences, n = compare.Outputs(old[i].Outputs, first.Cell.Outputs, s, options)
			versions += n
		}
		if c.Skipped == "" && second != nil && len(c.Differences) == 0 {
			c.Differences = between(first.Cell, second.Cell, c.Stored, states[old[i]])
		}
		if p := fresh[0].nb.Provenance(); len(c.Differences) > 0 && p != nil && i < len(p.Runs) {
			c.Varies = p.Runs[i].Varies
		}
		r.Cells = append(r.Cells, c)
		if c.Failure != "" {
			r.Err = fmt.Errorf("cell %d (%s) failed: %s", c.Number, c.ID, strings.ReplaceAll(c.Failure, "\n", " "))
			break
		}
	}
	for _, f := range fresh {
		late += f.res.Late
	}
	note := func(n int, format string) {
		if n > 0 {
			r.Notes = append(r.Notes, fmt.Sprintf(format, n))
		}
	}
	note(varies, "%d cells state that their output varies; it was not compared")
	note(versions, "%d lines name other versions of rotorhum or Go than those that are stored, and agree but for that")
	note(late, "goroutines printed %d times after their cell had ended; that output was not compared")
}

// between compares what a cell showed in two fresh runs: byte for byte, or, for
// a cell that is stored and states a tolerance, within that.
func between(first, second *notebook.Cell, stored bool, s compare.Statement) []compare.Difference {
	if stored {
		found, _ := compare.Outputs(first.Outputs, second.Outputs, s, compare.Options{})
		return inRuns(found)
	}
	a, errA := encoded(first)
	b, errB := encoded(second)
	if errA == nil && errB == nil && bytes.Equal(a, b) {
		return nil
	}
	found, _ := compare.Outputs(first.Outputs, second.Outputs, compare.Statement{}, compare.Options{})
	if len(found) == 0 {
		found = []compare.Difference{{Output: 1, What: "outputs", Why: "two fresh runs give different bytes for the same content"}}
	}
	return inRuns(found)
}

func inRuns(found []compare.Difference) []compare.Difference {
	for i := range found {
		found[i].Runs = true
	}
	return found
}

func encoded(c *notebook.Cell) ([]byte, error) {
	one := &notebook.Notebook{Metadata: map[string]any{}, Cells: []*notebook.Cell{c}}
	return one.Encode()
}

// explain says in what circumstances the run differs from the stored one.
func (r *Report) explain(stored, fresh *notebook.Notebook, claims bool) {
	then, now := stored.Provenance(), fresh.Provenance()
	if !claims || then == nil || now == nil {
		return
	}
	for _, d := range provenance.Differences(then, now) {
		if r.Err != nil && d.Kind == provenance.OrderChanged {
			continue // the run stopped early, which is said already
		}
		if r.Err != nil && d.Kind == provenance.FileChanged && strings.HasSuffix(d.Text, "is not read now") {
			d.Text += ": it is missing, or the run stopped before it"
		}
		r.Causes = append(r.Causes, d)
	}
}

// versionsSince pairs the names of versions in the stored record with those of
// now.
func versionsSince(then, now *provenance.Record) compare.Versions {
	v := compare.Versions{}
	if then == nil || now == nil {
		return v
	}
	pair := func(a, b string) {
		if a != "" && b != "" && a != b {
			v[a] = b
		}
	}
	p, q := then.Program, now.Program
	pair(p.Version, q.Version)
	pair(p.Go, q.Go)
	pair(p.Revision, q.Revision)
	if len(p.Revision) > 12 && len(q.Revision) > 12 {
		pair(p.Revision[:12], q.Revision[:12])
	}
	return v
}

// updated returns stored with the new outputs of the cells that differ from
// what is stored.
func updated(stored, fresh *notebook.Notebook, r *Report) *notebook.Notebook {
	old, now := stored.Runnable(), fresh.Runnable()
	changed := false
	for i, c := range r.Cells {
		if c.Stored && len(c.Differences) > 0 {
			old[i].Outputs = now[i].Outputs
			if old[i].Count != 0 {
				old[i].Count = now[i].Count
			}
			for _, o := range old[i].Outputs {
				o.Count = old[i].Count
			}
			changed = true
		}
	}
	if !changed {
		return nil
	}
	if stored.Provenance() != nil {
		stored.TakeProvenance(fresh)
	}
	return stored
}
