package main

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"time"

	"rotorhum/kernel/notebook"
	"rotorhum/kernel/notebook/child"
	"rotorhum/kernel/notebook/page"
)

const runHelp = `usage: rotorhum run [-o OUT.ipynb] [-html OUT.html] [-dir FOLDER] [-set name=value]...
                    [-timeout D] [-quiet] NOTEBOOK...
       rotorhum run -each name=FOLDER -dir FOLDER [-table FILE.csv|FILE.json]
                    [-set name=value]... [-timeout D] [-j N] NOTEBOOK

Runs all code cells of each notebook from top to bottom in a fresh session, without
Jupyter, and shows what they show. A run stops at the first cell that fails, unless
the cell is tagged raises-error. The executed notebook and a page that any browser
opens are written beside the notebook, as NAME.executed.ipynb and
NAME.executed.html; the notebook itself is left as it is.

Cells run in the notebook's folder: paths in cells and in -set start there. -set
gives a variable of the cell tagged "parameters" another value; names and types are
checked against that cell. A notebook is a program: it runs with your rights.

The executed notebook says in its metadata where its outputs came from: versions,
the SHA-256 of every file that was read, the seed, the order of the cells.

With -each the notebook runs once for each recording in a folder, several at a time,
and a table says what came out: one row for each recording. Speed, interval and
verdict are those of the last tacho.Measurement that a cell shows (as its result or
by display); a notebook that shows none has none. A recording that fails is a row
as well and does not stop the rest. All recordings of one run get the same settings:
put only recordings of ONE rotor into the folder. No sound tells how many pulses make
a turn, so a rotor with another number of them gets a wrong speed and no warning.

A file that is no result of an earlier run is not overwritten.
Exit code: 0 all cells ran, 1 a cell failed or a file is at fault, 2 wrong usage.

Example: measure another recording, of a wheel with seven teeth

  rotorhum run -set recording=../datasets/card-wheel-run-up.wav -set pulses=7 \
      -set moment=7.5 -dir results notebooks/08_spin-up-trial.ipynb

Example: measure all recordings of a folder, with a table for a spreadsheet

  rotorhum run -each recording=recordings -set pulses=5 -dir results \
      -table results/speeds.csv my-measurement.ipynb

Flags:
`

// runOptions is what the command line of "rotorhum run" says.
type runOptions struct {
	out, page, dir string
	noPage         bool
	inPlace        bool
	quiet          bool
	timeout        time.Duration
	settings       []notebook.Setting
	each           notebook.Setting // a parameter and the folder of its values; Name is "" for none
	table          string
	jobs           int
}

// runRun is the command "rotorhum run".
func runRun(args []string, stdout, stderr io.Writer) int {
	if len(args) == 1 && args[0] == sessionFlag {
		return runSession(stderr)
	}
	var o runOptions
	flags := flag.NewFlagSet("run", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	flags.StringVar(&o.out, "o", "", "write the executed notebook to this `file`; only with one notebook")
	flags.StringVar(&o.page, "html", "", "write the page to this `file`; only with one notebook")
	flags.StringVar(&o.dir, "dir", "", "write executed notebooks and pages into this `folder`")
	flags.BoolVar(&o.noPage, "nohtml", false, "write no page")
	flags.BoolVar(&o.inPlace, "inplace", false, "store the outputs in the notebook itself")
	flags.BoolVar(&o.quiet, "quiet", false, "show failures and the written files only")
	flags.DurationVar(&o.timeout, "timeout", 0, "time limit of every cell, such as 90s, whatever the notebook says\n(default: rotorhum.timeout_s in the metadata of cell or notebook, else "+notebook.DefaultTimeout.String()+")")
	flags.Func("set", "give a parameter of the notebook another value: `name=value`; may be repeated", func(s string) error {
		setting, err := notebook.ParseSetting(s)
		o.settings = append(o.settings, setting)
		return err
	})
	flags.Func("each", "run once for each recording in a folder, which becomes the value of a parameter: `name=folder`", func(s string) (err error) {
		o.each, err = notebook.ParseSetting(s)
		return err
	})
	flags.StringVar(&o.table, "table", "", "with -each: write the table to this `file`, as CSV or, if it ends in .json, as JSON")
	flags.IntVar(&o.jobs, "j", runtime.NumCPU(), "with -each: how many sessions run at a time")
	if err := flags.Parse(args); errors.Is(err, flag.ErrHelp) {
		fmt.Fprint(stdout, runHelp)
		flags.SetOutput(stdout)
		flags.PrintDefaults()
		return exitOK
	} else if err != nil {
		return runUsage(stderr, err.Error())
	}
	names := flags.Args()
	switch {
	case len(names) == 0:
		return runUsage(stderr, "name a notebook")
	case len(names) > 1 && (o.out != "" || o.page != ""):
		return runUsage(stderr, "-o and -html go with one notebook; use -dir for several")
	case o.inPlace && (o.out != "" || o.dir != ""):
		return runUsage(stderr, "-inplace goes with neither -o nor -dir")
	case o.noPage && o.page != "":
		return runUsage(stderr, "-nohtml and -html contradict each other")
	case o.timeout < 0:
		return runUsage(stderr, "-timeout must be positive")
	case o.jobs < 1:
		return runUsage(stderr, "-j must be at least 1")
	case o.each.Name == "" && o.table != "":
		return runUsage(stderr, "-table goes with -each")
	case o.each.Name != "" && (len(names) > 1 || o.out != "" || o.page != "" || o.inPlace || o.dir == ""):
		return runUsage(stderr, "-each goes with one notebook and -dir, and with none of -o, -html and -inplace")
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if o.each.Name != "" {
		return runBatch(ctx, names[0], o, stdout, stderr)
	}
	targets, err := runTargets(names, o)
	if err != nil {
		return runUsage(stderr, err.Error())
	}
	code := exitOK
	for i, name := range names {
		if i > 0 && !o.quiet {
			fmt.Fprintln(stdout)
		}
		if err := runNotebook(ctx, name, targets[i], o, stdout); err != nil {
			fmt.Fprintf(stderr, "rotorhum run: %v\n", err)
			code = exitBadInput
		}
		if ctx.Err() != nil {
			return exitBadInput
		}
	}
	return code
}

func runUsage(stderr io.Writer, what string) int {
	fmt.Fprintf(stderr, "rotorhum run: %s; rotorhum run -h explains\n", what)
	return exitBadUsage
}

// runTarget is where the results of one notebook go.
type runTarget struct{ notebook, page string }

// runTargets gives every notebook its output files and refuses two that would
// share one.
func runTargets(names []string, o runOptions) ([]runTarget, error) {
	taken := map[string]string{}
	var targets []runTarget
	for _, name := range names {
		folder, base := filepath.Split(name)
		if o.dir != "" {
			folder = o.dir
		}
		base = strings.TrimSuffix(base, ".ipynb") + ".executed"
		t := runTarget{filepath.Join(folder, base+".ipynb"), filepath.Join(folder, base+".html")}
		switch {
		case o.out != "":
			t.notebook = o.out
			t.page = strings.TrimSuffix(o.out, ".ipynb") + ".html"
		case o.inPlace:
			t.notebook = name
		}
		if o.page != "" {
			t.page = o.page
		}
		if o.noPage {
			t.page = ""
		}
		for _, file := range []string{t.notebook, t.page} {
			if other, ok := taken[file]; ok && file != "" {
				return nil, fmt.Errorf("%s and %s would both be written to %s", other, name, file)
			}
			taken[file] = name
		}
		targets = append(targets, t)
	}
	return targets, nil
}

// runNotebook runs the named notebook and writes its results. A cell's failure
// is an error like any other, but the results are written all the same.
func runNotebook(ctx context.Context, name string, target runTarget, o runOptions, stdout io.Writer) error {
	nb, err := notebook.ReadFile(name)
	if err != nil {
		return err
	}
	if err := nb.Set(o.settings); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	p := &runPrinter{out: stdout, quiet: o.quiet}
	res, err := executeTo(ctx, nb, name, target, o, p)
	if err != nil {
		return err
	}
	p.finish(name, res, target)
	if f := res.Failed; f != nil {
		return fmt.Errorf("%s: cell %d failed: %s", name, f.Number, shortened(strings.ReplaceAll(f.Fault.Error(), "\n", " "), maxWidth))
	}
	return nil
}

// executeTo runs nb, which was read from the named file, in a fresh session and
// writes the results.
func executeTo(ctx context.Context, nb *notebook.Notebook, name string, target runTarget, o runOptions, p *runPrinter) (*notebook.Result, error) {
	if err := mayHoldResults(name, target, o.inPlace); err != nil {
		return nil, err
	}
	if o.dir != "" {
		if err := os.MkdirAll(o.dir, 0o777); err != nil {
			return nil, err
		}
	}
	session, err := startSession(filepath.Dir(name))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	defer session.Close()
	p.begin(name)
	res, err := nb.Run(ctx, session, notebook.RunOptions{Timeout: o.timeout, Started: p.started, Ended: p.ended})
	if errors.Is(err, context.Canceled) {
		return nil, fmt.Errorf("%s: interrupted before its first cell", name)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if err := nb.WriteFile(target.notebook); err != nil {
		return nil, err
	}
	return res, writePage(nb, name, target.page)
}

// startSession starts this program again as a session that works in folder.
func startSession(folder string) (*child.Session, error) {
	program, err := os.Executable()
	if err != nil {
		return nil, err
	}
	return child.Start(folder, program, "run", sessionFlag)
}

func writePage(nb *notebook.Notebook, name, file string) error {
	if file == "" {
		return nil
	}
	folder, err := os.OpenRoot(filepath.Dir(name))
	if err != nil {
		return err
	}
	defer folder.Close()
	text, err := page.HTML(nb, page.Options{Name: filepath.Base(name), Folder: folder})
	if err != nil {
		return fmt.Errorf("%s: %w", file, err)
	}
	return notebook.ReplaceFile(file, bytes.TrimLeft(text, "\n"))
}

// sameFile reports whether both names lead to one file that exists.
func sameFile(a, b string) bool {
	x, err := os.Stat(a)
	if err != nil {
		return false
	}
	y, err := os.Stat(b)
	return err == nil && os.SameFile(x, y)
}
