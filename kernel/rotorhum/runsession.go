package main

import (
	"fmt"
	"io"
	"os"

	"rotorhum/kernel/notebook/child"
)

// sessionFlag makes "rotorhum run" the process in which a notebook's cells run.
// It is for the program itself, not for people.
const sessionFlag = "-session"

// runSession answers the requests of the "rotorhum run" that started it.
func runSession(stderr io.Writer) int {
	in, out := child.Pipes()
	err := child.Serve(in, out, startInterp, func() { os.Exit(exitBadInput) })
	if err != nil {
		fmt.Fprintf(stderr, "rotorhum run: %v\n", err)
		return exitBadInput
	}
	return exitOK
}
