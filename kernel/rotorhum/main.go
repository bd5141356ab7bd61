// Command rotorhum measures how fast a rotor turned from a sound recording of
// it, and runs the notebooks that show why: it is a Jupyter kernel, a notebook
// runner that needs no Jupyter, and a measuring command in one program.
package main

import (
	"fmt"
	"io"
	"os"
)

// Exit codes that every command shares.
const (
	exitOK        = 0 // the command did what was asked; measure: there is a reading
	exitBadInput  = 1 // a file or its content was at fault; one line says what to do
	exitBadUsage  = 2 // the command line was at fault
	exitNoReading = 3 // measure: an honest "no reading"
	exitDiffers   = 4 // verify: an output is not the stored one
)

// command is one verb of the program. Each lives in a file of its own.
type command struct {
	name    string
	summary string // one line for the overview
	run     func(args []string, stdout, stderr io.Writer) int
}

// commands lists the verbs in the order of a person's way through them.
func commands() []command {
	return []command{
		{"measure", "say how fast a rotor turned in a recording", runMeasure},
		{"listen", "follow a rotor while it spins, and keep what is heard", runListen},
		{"run", "run notebooks without Jupyter and write the results", runRun},
		{"verify", "run notebooks again and compare with what is stored in them", runVerify},
		{"serve", "serve as a Jupyter kernel (Jupyter starts this)", runServe},
		{"install", "tell Jupyter about the kernel", runInstall},
		{"clean", "bring notebooks to the form in which they are kept", runClean},
		{"synth", "make a recording with known truth from a description", runSynth},
	}
}

func main() { os.Exit(dispatch(os.Args[1:], os.Stdout, os.Stderr)) }

func dispatch(args []string, stdout, stderr io.Writer) int {
	if len(args) == 0 {
		overview(stderr)
		return exitBadUsage
	}
	switch args[0] {
	case "-h", "-help", "--help", "help":
		overview(stdout)
		return exitOK
	}
	for _, c := range commands() {
		if c.name == args[0] {
			return c.run(args[1:], stdout, stderr)
		}
	}
	fmt.Fprintf(stderr, "rotorhum: there is no command %q; rotorhum -h lists them\n", args[0])
	return exitBadUsage
}

func overview(w io.Writer) {
	fmt.Fprintln(w, "rotorhum turns the sound of something spinning into a speed, and shows why.")
	fmt.Fprintln(w)
	fmt.Fprintln(w, "Commands (each explains itself with -h):")
	for _, c := range commands() {
		fmt.Fprintf(w, "  %-9s %s\n", c.name, c.summary)
	}
}
