package main

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io"

	"rotorhum/kernel/notebook"
)

const cleanHelp = `usage: rotorhum clean [-check] [-outputs] NOTEBOOK...

Brings notebooks to the form in which they are kept: format 4.5, an id for every
cell, sorted keys, and nothing that running left behind: no outputs (except of
cells tagged keep-output), no execution counts, no times. A clean notebook is not
touched; cleaning twice is cleaning once.

With -check nothing is written: the notebooks that are not clean are named and the
exit code is 1. Exit code 2 is wrong usage.

Example: refuse a commit with uncleaned notebooks

  rotorhum clean -check notebooks/*.ipynb || rotorhum clean notebooks/*.ipynb

Flags:
`

// runClean is the command "rotorhum clean".
func runClean(args []string, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("clean", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	check := flags.Bool("check", false, "write nothing; name what is not clean and exit with 1")
	outputs := flags.Bool("outputs", false, "keep all outputs and bring only the rest to order")
	if err := flags.Parse(args); errors.Is(err, flag.ErrHelp) {
		fmt.Fprint(stdout, cleanHelp)
		flags.SetOutput(stdout)
		flags.PrintDefaults()
		return exitOK
	} else if err != nil {
		fmt.Fprintf(stderr, "rotorhum clean: %v; rotorhum clean -h explains\n", err)
		return exitBadUsage
	}
	if flags.NArg() == 0 {
		fmt.Fprintln(stderr, "rotorhum clean: name a notebook; rotorhum clean -h explains")
		return exitBadUsage
	}
	code := exitOK
	for _, name := range flags.Args() {
		changed, err := cleanFile(name, *check, *outputs)
		switch {
		case err != nil:
			fmt.Fprintf(stderr, "rotorhum clean: %v\n", err)
			code = exitBadInput
		case changed && *check:
			fmt.Fprintf(stdout, "%s is not clean; run rotorhum clean %s\n", name, name)
			code = exitBadInput
		case changed:
			fmt.Fprintf(stdout, "%s cleaned\n", name)
		}
	}
	return code
}

// cleanFile reports whether the named notebook differs from its clean form and,
// unless only checking, writes that.
func cleanFile(name string, check, outputs bool) (changed bool, err error) {
	before, err := notebook.ReadText(name)
	if err != nil {
		return false, err
	}
	nb, err := notebook.Read(before)
	if err != nil {
		return false, fmt.Errorf("%s: %w", name, err)
	}
	nb.Clean(outputs)
	after, err := nb.Encode()
	if err != nil {
		return false, fmt.Errorf("%s: %w", name, err)
	}
	if bytes.Equal(before, after) {
		return false, nil
	}
	if check {
		return true, nil
	}
	return true, notebook.ReplaceFile(name, after)
}
