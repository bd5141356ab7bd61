package main

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"time"

	"rotorhum/kernel/notebook"
	"rotorhum/kernel/notebook/verify"
	"rotorhum/tacho"
)

const verifyHelp = `usage: rotorhum verify [-update] [-junit FILE.xml] [-in FOLDER] [-twice] [-timeout D]
                       [-j N] [-quiet] NOTEBOOK|FOLDER...

Runs each notebook in a fresh session and says whether it shows what is stored in
it. Of a folder, all notebooks in and below it are checked. Several run at a time.
Nothing is written unless a flag says so. A notebook is a program: it runs with
your rights, so read a stranger's before you verify it.

What is compared: printed text and results line by line, exactly; pictures by their
pixels, SVG by its elements, whatever the compression or layout; JSON by its values.
Execution counts are not. A cell without stored outputs claims that it always shows
the same: the notebook is run twice, and both runs must agree byte for byte.

A cell states in its tags, or in its metadata under "rotorhum", what may differ:

  tolerance=0.5%          numbers, by a share of the stored one ("tolerance": "0.5%")
  tolerance=0.02          numbers, by so much                   ("tolerance": 0.02)
  picture-tolerance=0.1%  that share of a picture's pixels      ("picture_tolerance": "0.1%")
  output-varies           everything; it only has to run        ("output_varies": true)
  raises-error            nothing, but the cell is meant to fail

Of two tolerances a number has to keep one. The line of a report that names the
versions which made it may name others than are stored; that is told, and nothing
else on the line may differ. Where an output differs, the report says also in what
the runs differ: a recording with another content, another seed, another version.

Exit code: 0 all agree; 4 some output differs; 1 some notebook could not be checked
(damaged, for another kernel, a cell failed or ran too long); 2 wrong usage. With
-update, what was brought up to date counts as agreeing.

Example: check all notebooks of a folder, with a result file for a CI system

  rotorhum verify -junit verify.xml notebooks

Flags:
`

// verifyOptions is what the command line of "rotorhum verify" says.
type verifyOptions struct {
	update, quiet, twice bool
	junit, in            string
	timeout              time.Duration
	jobs                 int
}

// verified is one notebook and what was found.
type verified struct {
	name   string
	text   []byte // of its file
	report *verify.Report
	took   time.Duration
	// updated: the new outputs were written.
	updated bool
}

// runVerify is the command "rotorhum verify".
func runVerify(args []string, stdout, stderr io.Writer) int {
	var o verifyOptions
	flags := flag.NewFlagSet("verify", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	flags.BoolVar(&o.update, "update", false, "store the new outputs of cells that differ, and print the change;\nnotebooks that are stored without outputs stay so")
	flags.StringVar(&o.junit, "junit", "", "write the results to this `file` in the XML form that CI systems read")
	flags.StringVar(&o.in, "in", "", "run cells in this `folder`, not in the notebook's: for executed notebooks that were written elsewhere")
	flags.BoolVar(&o.twice, "twice", false, "run every notebook twice, also those with stored outputs")
	flags.DurationVar(&o.timeout, "timeout", 0, "time limit of every cell, such as 90s, whatever the notebook says\n(default: rotorhum.timeout_s in the metadata of cell or notebook, else "+notebook.DefaultTimeout.String()+")")
	flags.IntVar(&o.jobs, "j", runtime.NumCPU(), "how many sessions run at a time")
	flags.BoolVar(&o.quiet, "quiet", false, "say only what does not agree")
	if err := flags.Parse(args); errors.Is(err, flag.ErrHelp) {
		fmt.Fprint(stdout, verifyHelp)
		flags.SetOutput(stdout)
		flags.PrintDefaults()
		return exitOK
	} else if err != nil {
		return verifyUsage(stderr, err.Error())
	}
	switch {
	case flags.NArg() == 0:
		return verifyUsage(stderr, "name a notebook or a folder")
	case o.jobs < 1:
		return verifyUsage(stderr, "-j must be at least 1")
	case o.timeout < 0:
		return verifyUsage(stderr, "-timeout must be positive")
	case o.in != "" && !isFolder(o.in):
		return verifyUsage(stderr, "-in "+o.in+": there is no such folder")
	}
	if i := slices.IndexFunc(flags.Args(), func(a string) bool { return strings.HasPrefix(a, "-") }); i > 0 {
		return verifyUsage(stderr, "put "+flags.Arg(i)+" before the notebooks")
	}
	if err := mayBecome(o.junit, ""); err != nil {
		return verifyUsage(stderr, "-junit "+err.Error())
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	begun := time.Now()
	names, code := verifyTargets(flags.Args(), stdout, stderr)
	var all []*verified
	verifyAll(ctx, names, o, func(v *verified) {
		if o.update && v.report.Updated != nil {
			v.store(stdout)
		}
		printVerified(stdout, v, o.quiet)
		all = append(all, v)
	})
	for _, v := range all {
		switch {
		case v.report.Err != nil:
			code = exitBadInput
		case v.report.Differ() > 0 && !v.updated && code == exitOK:
			code = exitDiffers
		}
	}
	printVerifiedSum(stdout, all, time.Since(begun))
	if o.junit != "" {
		text, err := junitXML(all)
		if err == nil {
			err = writeResult(o.junit, text)
		}
		if err != nil {
			fmt.Fprintf(stderr, "rotorhum verify: %v\n", err)
			return exitBadInput
		}
	}
	return code
}

func verifyUsage(stderr io.Writer, what string) int {
	fmt.Fprintf(stderr, "rotorhum verify: %s; rotorhum verify -h explains\n", what)
	return exitBadUsage
}

// verifyTargets lists the notebooks that are meant: files as they are named,
// and for a folder all notebooks in and below it. Hidden folders are passed
// over, and so are links: what a folder holds must not lead out of it.
func verifyTargets(args []string, stdout, stderr io.Writer) (names []string, code int) {
	for _, arg := range args {
		if !isFolder(arg) {
			names = append(names, arg)
			continue
		}
		found := 0
		err := filepath.WalkDir(arg, func(path string, d fs.DirEntry, err error) error {
			switch {
			case err != nil:
				return err
			case d.IsDir() && path != arg && strings.HasPrefix(d.Name(), "."):
				return filepath.SkipDir
			case d.IsDir() || filepath.Ext(path) != ".ipynb" || strings.HasPrefix(d.Name(), "."):
			case !d.Type().IsRegular():
				fmt.Fprintf(stdout, "passed over  %s: it is a link or no regular file; name it to check it\n", terminalLine(path))
			default:
				names = append(names, path)
				found++
			}
			return nil
		})
		if err == nil && found == 0 {
			err = fmt.Errorf("%s: there is no notebook in it", arg)
		}
		if err != nil {
			fmt.Fprintf(stderr, "rotorhum verify: %v\n", err)
			code = exitBadInput
		}
	}
	return names, code
}

// verifyAll verifies the notebooks, several at a time, and tells of each in the
// order of the names.
func verifyAll(ctx context.Context, names []string, o verifyOptions, tell func(*verified)) {
	slots := make(chan struct{}, o.jobs)
	results := make([]chan *verified, len(names))
	// No more notebooks are under way than sessions, so that those that are
	// told of first come first.
	started := make(chan struct{}, o.jobs)
	for i := range names {
		results[i] = make(chan *verified, 1)
	}
	go func() {
		for i, name := range names {
			started <- struct{}{}
			go func() {
				results[i] <- verifyFile(ctx, name, o, slots)
				<-started
			}()
		}
	}()
	for i := range names {
		tell(<-results[i])
	}
}

func verifyFile(ctx context.Context, name string, o verifyOptions, slots chan struct{}) *verified {
	begun := time.Now()
	v := &verified{name: name}
	var err error
	if v.text, err = notebook.ReadText(name); err != nil {
		v.report = &verify.Report{Err: err}
		return v
	}
	folder := o.in
	if folder == "" {
		folder = filepath.Dir(name)
	}
	v.report = verify.Notebook(ctx, v.text, verify.Options{
		Start: func() (verify.Session, error) { return startSession(folder) },
		Run:   notebook.RunOptions{Timeout: o.timeout},
		Made:  fmt.Sprintf("rotorhum %s, %s", tacho.Version, runtime.Version()),
		Twice: o.twice, Slots: slots,
	})
	v.took = time.Since(begun)
	return v
}

// store writes the new outputs into the notebook, unless somebody has changed
// it since it was read, and prints what changes.
func (v *verified) store(stdout io.Writer) {
	before, err := notebook.Read(v.text)
	if err != nil {
		v.report.Err = err
		return
	}
	old, err := before.Encode()
	if err != nil {
		v.report.Err = err
		return
	}
	text, err := v.report.Updated.Encode()
	if err != nil {
		v.report.Err = err
		return
	}
	now, err := notebook.ReadText(v.name)
	if err == nil && !bytes.Equal(now, v.text) {
		err = errors.New("it was changed while it was checked; nothing was written")
	}
	if err == nil {
		err = notebook.ReplaceFile(v.name, text)
	}
	if err != nil {
		v.report.Err = err
		return
	}
	v.updated = true
	printChange(stdout, v.name, string(old), string(text))
}
