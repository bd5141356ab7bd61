package notebook

import (
	"context"
	"fmt"
	"strings"
	"time"

	"rotorhum/kernel/cell"
)

// SolutionTag marks a code cell with the worked solution of an exercise. It is run
// like any other; a page shows it folded up.
const SolutionTag = "solution"

// Tags that [Notebook.Run] heeds.
const (
	// RaisesError marks a planned failure: the cell must fail, and the run goes
	// on after it.
	RaisesError = "raises-error"
	// RaisesException marks a cell that may fail; the name is the one that
	// other runners know.
	RaisesException = "raises-exception"
	// SkipExecution marks a code cell that is not run.
	SkipExecution = "skip-execution"
)

// Names of the faults that the run itself adds to those of an interpreter.
const (
	// FaultTimeout: the cell ran longer than its limit.
	FaultTimeout = "Timeout"
	// FaultSessionEnded: the interpreter's process is gone; nothing can run
	// after it. See [Session].
	FaultSessionEnded = "SessionEnded"
	// FaultNoError: a cell tagged RaisesError did not fail.
	FaultNoError = "NoError"
)

// DefaultTimeout is the time limit of a cell for which nothing else is said.
const DefaultTimeout = 10 * time.Minute

// A Session is a [cell.Runner] that can be ended from outside when a cell does
// not react to an interrupt. Its Run then returns a fault named
// FaultSessionEnded.
type Session interface {
	cell.Runner
	Kill()
}

// RunOptions says how to run a notebook. The zero value is ready to use.
type RunOptions struct {
	// Timeout is the time limit of every cell. 0 means what the cell's
	// metadata says under rotorhum.timeout_s (seconds), else the notebook's
	// metadata under the same name, else DefaultTimeout.
	Timeout time.Duration
	// Grace is how long an interrupted cell may take to end before its session
	// is killed. 0 means 5 s.
	Grace time.Duration
	// Started and Ended, if not nil, are told before and after each cell.
	Started func(c *Cell, number, of int)
	Ended   func(c *Cell, run CellRun)
}

// CellRun is how one code cell ran.
type CellRun struct {
	// Number counts the executed code cells from 1; it is the execution count.
	Number int
	// Cell is the cell, with its new outputs.
	Cell *Cell
	// Fault is the error that ended the cell, nil if none did.
	Fault *cell.Fault
	// Planned reports that the fault is one the cell's tags allow.
	Planned bool
	// Took is the wall time.
	Took time.Duration
}

// Failed reports whether the cell's end is a failure of the notebook.
func (r CellRun) Failed() bool { return r.Fault != nil && !r.Planned }

// Result is how a notebook ran.
type Result struct {
	// Runs holds one entry per executed cell, in order.
	Runs []CellRun
	// Failed is the cell that stopped the run, nil if all cells ran.
	Failed *CellRun
	// Late counts pieces of output that goroutines made after their cell had
	// ended. They are not stored, because their place depends on timing.
	Late int
}

// Run executes all code cells of nb from top to bottom on r and stores in nb
// what they show, in place of all earlier outputs. It stops after the first
// cell that fails, unless the cell's tags allow that ([RaisesError],
// [RaisesException]). Cells without code, and those tagged [SkipExecution],
// are passed over.
//
// When ctx ends, the running cell is interrupted and the run stops there; the
// outputs so far are kept. Run returns an error wrapping [ErrKernel] if nb is
// written for another language; how the cells fared is in the Result.
//
// A runner that has a method Provenance() *provenance.Record is asked for it in
// the end, and the answer is stored in the notebook's metadata.
//
// Run does not change the working directory: r is expected to work in the
// notebook's folder.
func (nb *Notebook) Run(ctx context.Context, r cell.Runner, o RunOptions) (*Result, error) {
	if err := nb.CheckLanguage(); err != nil {
		return nil, err
	}
	nb.Normalise()
	nb.setLanguage()
	todo := nb.Runnable()
	for _, c := range nb.Cells {
		c.Outputs, c.Count = nil, 0
	}
	all := newCollector()
	var sinks []*cellSink
	nb.setProvenance(nil) // what made the earlier outputs is gone with them
	res := &Result{}
	for i, c := range todo {
		if ctx.Err() != nil && i == 0 {
			return nil, ctx.Err() // nothing has run, so nothing is to be stored
		}
		if o.Started != nil {
			o.Started(c, i+1, len(todo))
		}
		c.Count = i + 1
		sink := all.open(c)
		sinks = append(sinks, sink)
		run := nb.runCell(ctx, r, c, sink, o)
		res.Runs = append(res.Runs, run)
		if o.Ended != nil {
			o.Ended(c, run)
		}
		if run.Failed() {
			res.Failed = &run
			break
		}
	}
	if t, ok := r.(teller); ok {
		nb.setProvenance(t.Provenance())
	}
	for _, s := range sinks {
		all.mu.Lock()
		res.Late += s.late
		all.mu.Unlock()
	}
	return res, nil
}

// Runnable returns the code cells that [Notebook.Run] executes: those with code
// in them that are not tagged [SkipExecution].
func (nb *Notebook) Runnable() []*Cell {
	var cells []*Cell
	for _, c := range nb.Cells {
		if c.Kind == CodeCell && strings.TrimSpace(c.Source) != "" && !c.Tagged(SkipExecution) {
			cells = append(cells, c)
		}
	}
	return cells
}

func (nb *Notebook) runCell(ctx context.Context, r cell.Runner, c *Cell, sink *cellSink, o RunOptions) CellRun {
	limit := o.Timeout
	if limit == 0 {
		limit = nb.timeLimit(c)
	}
	begin := time.Now()
	timer := newTimeLimit(ctx, r, limit, o.Grace)
	out := r.Run(cell.Request{Name: fmt.Sprintf("In[%d]", c.Count), ID: c.ID, Code: c.Source, Sink: sink})
	timedOut := timer.stop()
	ended := out.Fault != nil && out.Fault.Name == FaultSessionEnded
	if timedOut {
		out.Result, out.Fault = nil, timeoutFault(limit, ended)
	}
	sink.end(out)
	run := CellRun{Number: c.Count, Cell: c, Fault: out.Fault, Took: time.Since(begin)}
	switch {
	case run.Fault != nil:
		run.Planned = c.Tagged(RaisesError, RaisesException) && !timedOut && !ended && ctx.Err() == nil
	case ctx.Err() != nil:
		run.Fault = &cell.Fault{Name: "Interrupted", Value: "the run was interrupted"}
	case c.Tagged(RaisesError):
		run.Fault = &cell.Fault{Name: FaultNoError, Value: "the cell is tagged " + RaisesError + " but did not fail"}
	}
	return run
}

func timeoutFault(limit time.Duration, ended bool) *cell.Fault {
	value := fmt.Sprintf("the cell ran longer than its limit of %v and was stopped", limit)
	if ended {
		value = fmt.Sprintf("the cell ran longer than its limit of %v, did not react to an interrupt, and its session was ended", limit)
	}
	return &cell.Fault{Name: FaultTimeout, Value: value, Traceback: []string{
		FaultTimeout + ": " + value,
		"Make the cell's work smaller, or raise rotorhum.timeout_s (seconds) in the cell's metadata.",
	}}
}

// CheckLanguage returns an error wrapping [ErrKernel] if nb says it is written in another language
// than Go, or asks for a kernel of another name without saying a language.
func (nb *Notebook) CheckLanguage() error {
	language := nb.Language()
	if language == "" && nb.KernelName() != "" && nb.KernelName() != kernelName {
		return fmt.Errorf("%w: it asks for the kernel %q; this program runs Go cells (kernel %q)", ErrKernel, nb.KernelName(), kernelName)
	}
	if language != "" && !strings.EqualFold(language, "go") {
		return fmt.Errorf("%w: it is written in %s (kernel %q); this program runs Go cells", ErrKernel, language, nb.KernelName())
	}
	return nil
}

// The kernel as Jupyter knows it.
const (
	kernelName    = "rotorhum"
	kernelDisplay = "Rotorhum (Go)"
)

// setLanguage completes the metadata by which front ends choose the kernel and
// colour the code, where they are missing.
func (nb *Notebook) setLanguage() {
	if _, ok := nb.Metadata["kernelspec"].(map[string]any); !ok {
		nb.Metadata["kernelspec"] = map[string]any{
			"name": kernelName, "display_name": kernelDisplay, "language": "go",
		}
	}
	if _, ok := nb.Metadata["language_info"].(map[string]any); !ok {
		nb.Metadata["language_info"] = map[string]any{
			"name": "go", "file_extension": ".go", "mimetype": "text/x-go",
			"pygments_lexer": "go", "codemirror_mode": "go",
		}
	}
}
