// Command tally reads what "go test -json" writes, counts the tests that passed
// and failed, and shows the output of those that failed, and of packages that
// did not build or ended outside a test. It writes the counts, two numbers, to
// the file named by its argument.
package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"
)

// event is one line of "go test -json"; see "go doc test2json" and
// "go help buildjson".
type event struct {
	Action, Package, ImportPath, Test, Output string
}

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: go test -json PACKAGE... | tally COUNTS")
		os.Exit(2)
	}
	passed, failed, err := tally(os.Stdin, os.Stdout)
	if err == nil {
		err = os.WriteFile(os.Args[1], fmt.Appendf(nil, "%d %d\n", passed, failed), 0o666)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "tally:", err)
		os.Exit(1)
	}
	if failed > 0 {
		os.Exit(1)
	}
}

// tally counts tests, with their subtests and examples; a package that fails
// without a failing test counts as one failure.
func tally(in io.Reader, out io.Writer) (passed, failed int, err error) {
	said := map[string]*strings.Builder{} // by package and test
	note := func(key, text string) {
		if said[key] == nil {
			said[key] = &strings.Builder{}
		}
		said[key].WriteString(text)
	}
	failedIn := map[string]bool{} // packages with a failing test
	lines := bufio.NewReader(in)
	for {
		line, readErr := lines.ReadBytes('\n')
		var e event
		if json.Unmarshal(line, &e) != nil {
			// What the go command itself says, such as an unknown flag.
			note("", string(line))
		}
		key := e.Package + e.ImportPath + " " + e.Test
		switch {
		case e.Action == "output" || e.Action == "build-output":
			note(key, e.Output)
		case e.Action == "pass" && e.Test != "":
			passed++
			delete(said, key)
		case e.Action == "skip":
			delete(said, key)
		case e.Action == "fail" && e.Test != "":
			failed++
			failedIn[e.Package] = true
			fmt.Fprintf(out, "FAIL  %s %s\n", e.Package, e.Test)
			show(out, said[key])
		case e.Action == "fail" && !failedIn[e.Package]:
			failed++
			fmt.Fprintf(out, "FAIL  %s\n", e.Package)
			show(out, said[key])
		case e.Action == "build-fail":
			show(out, said[key])
		}
		if readErr == io.EOF {
			break
		}
		if readErr != nil {
			return passed, failed, readErr
		}
	}
	if passed+failed == 0 {
		failed++
		fmt.Fprintln(out, "FAIL  no test was run")
		show(out, said[""])
	}
	return passed, failed, nil
}

// maxShown is how many lines of one failing test are shown.
const maxShown = 60

func show(out io.Writer, said *strings.Builder) {
	if said == nil {
		return
	}
	n := 0
	for line := range strings.Lines(said.String()) {
		if strings.HasPrefix(strings.TrimSpace(line), "=== ") {
			continue
		}
		if n++; n > maxShown {
			fmt.Fprintln(out, "      …")
			return
		}
		fmt.Fprint(out, "      ", line)
	}
}
