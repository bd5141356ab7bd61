package main

import (
	"os"
	"testing"
)

// A notebook's session is this program started again; in tests the program is
// the test binary.
func TestMain(m *testing.M) {
	if len(os.Args) == 3 && os.Args[1] == "run" && os.Args[2] == sessionFlag {
		os.Exit(runSession(os.Stderr))
	}
	os.Exit(m.Run())
}
