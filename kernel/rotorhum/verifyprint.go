package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	udiff "github.com/aymanbagabas/go-udiff"

	"rotorhum/kernel/notebook/compare"
	"rotorhum/kernel/provenance"
)

// How much of a difference is shown.
const (
	maxDifferences = 5   // of one cell
	maxChange      = 160 // characters of one line of a change
)

// printVerified says in a few lines what was found of one notebook.
func printVerified(w io.Writer, v *verified, quiet bool) {
	r := v.report
	name := terminalLine(v.name)
	differ := r.Differ()
	for _, c := range r.Cells {
		printCell(w, name, c.Number, c.ID, c.Differences)
		for _, why := range c.Varies {
			fmt.Fprintf(w, "    possible cause: %s\n", shortened(why, maxWidth))
		}
	}
	if differ > 0 || r.Err != nil {
		for _, d := range r.Causes {
			fmt.Fprintf(w, "%s: possible cause: %s\n", name, shortened(d.Text, maxWidth))
		}
	}
	switch {
	case r.Err != nil:
		fmt.Fprintf(w, "error    %s: %s\n", name, shortened(withoutName(r.Err.Error(), v.name), 2*maxWidth))
	case differ > 0 && v.updated:
		fmt.Fprintf(w, "updated  %s: %s; review the change above\n", name, cellsOf(differ))
	case differ > 0:
		fmt.Fprintf(w, "differs  %s: %d of %s\n", name, differ, cellsOf(len(r.Cells)))
	case quiet:
		return
	default:
		fmt.Fprintf(w, "ok       %s: %s (%.1f s)\n", name, agreement(v), v.took.Seconds())
	}
	for _, note := range r.Notes {
		fmt.Fprintf(w, "         note: %s\n", note)
	}
	if differ == 0 && r.Err == nil {
		for _, d := range r.Causes {
			if d.Kind == provenance.FileChanged {
				fmt.Fprintf(w, "         note: %s, and the outputs agree all the same\n", shortened(d.Text, maxWidth))
			}
		}
	}
}

// agreement says what agrees with what.
func agreement(v *verified) string {
	stored, twice := v.report.Compared()
	switch {
	case stored+twice == 0 && len(v.report.Cells) == 0:
		return "there is no code to run"
	case stored+twice == 0:
		return cellsOf(len(v.report.Cells)) + " ran, and nothing was to be compared"
	case stored == 0:
		return cellsOf(twice) + " without stored outputs: two fresh runs are the same byte for byte"
	case twice == 0:
		return cellsOf(stored) + " agree with what is stored"
	}
	return fmt.Sprintf("%s agree with what is stored, %d without stored outputs are the same in two fresh runs", cellsOf(stored), twice)
}

func cellsOf(n int) string {
	if n == 1 {
		return "1 cell"
	}
	return fmt.Sprintf("%d cells", n)
}

// withoutName takes the file's name from the head of an error that begins with it.
func withoutName(text, name string) string {
	text = strings.ReplaceAll(text, "\n", " ")
	return strings.TrimPrefix(text, name+": ")
}

func printCell(w io.Writer, name string, number int, id string, found []compare.Difference) {
	for i, d := range found {
		if i == maxDifferences {
			fmt.Fprintf(w, "%s: cell %d (%s): %d more differences\n", name, number, id, len(found)-i)
			return
		}
		fmt.Fprintf(w, "%s: %s\n", name, whereIs(number, id, d))
		if d.Stored+d.New != "" {
			before, after := "stored", "new   "
			if d.Runs {
				before, after = "run 1 ", "run 2 "
			}
			fmt.Fprintf(w, "    %s  %s\n    %s  %s\n", before, terminalLine(d.Stored), after, terminalLine(d.New))
		}
		if d.Why != "" {
			fmt.Fprintf(w, "    %s\n", terminalLine(d.Why))
		}
	}
}

// whereIs names the place of a difference.
func whereIs(number int, id string, d compare.Difference) string {
	where := fmt.Sprintf("cell %d (%s), output %d, %s", number, id, d.Output, terminalLine(d.What))
	if d.Line > 0 {
		where += fmt.Sprintf(", line %d", d.Line)
	}
	if d.Runs {
		where += ": two fresh runs differ"
	}
	return where
}

func printVerifiedSum(w io.Writer, all []*verified, took time.Duration) {
	if len(all) == 0 {
		return
	}
	ok, differs, updated, failed := 0, 0, 0, 0
	for _, v := range all {
		switch {
		case v.report.Err != nil:
			failed++
		case v.updated:
			updated++
		case v.report.Differ() > 0:
			differs++
		default:
			ok++
		}
	}
	text := fmt.Sprintf("%d of %d notebooks ok", ok, len(all))
	for _, part := range []struct {
		n    int
		what string
	}{{differs, "differ"}, {updated, "brought up to date"}, {failed, "could not be checked to the end"}} {
		if part.n > 0 {
			text += fmt.Sprintf(", %d %s", part.n, part.what)
		}
	}
	fmt.Fprintf(w, "%s, in %.1f s\n", text, took.Seconds())
}

// printChange prints how a file changes, line by line; long lines, as pictures
// have, are shortened.
func printChange(w io.Writer, name, before, after string) {
	name = filepath.ToSlash(terminalLine(name))
	for line := range strings.Lines(udiff.Unified(name+" (stored)", name+" (new)", before, after)) {
		fmt.Fprintln(w, shortened(strings.TrimRight(line, "\n"), maxChange))
	}
}
