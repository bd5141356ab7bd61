package main

import (
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// What README shows of a measurement is what its command prints, to one unit in the last
// place: processors round differently.
func TestReadmeShowsWhatIsPrinted(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	const before, command = "go run ./kernel/rotorhum ", "measure -pulses 5 -radius 6cm±0.5mm datasets/whirligig-three-pushes.wav"
	_, rest, found := strings.Cut(string(text), before+command+"\n```\n\n```text\n")
	shown, _, ends := strings.Cut(rest, "  ...\n```")
	if !found || !ends {
		t.Fatalf("README.md does not show what %q prints", before+command)
	}
	t.Chdir("../..")
	code, stdout, stderr := call(strings.Fields(command)...)
	if code != exitOK {
		t.Fatalf("exit %d: %s", code, stderr)
	}
	want, got := strings.Split(shown, "\n"), strings.Split(stdout, "\n")
	for i, line := range want[:len(want)-1] {
		if i >= len(got) || !alike(line, got[i]) {
			t.Fatalf("line %d of README's example is %q; it is now\n%s", i+1, line, strings.Join(got[:min(len(got), len(want))], "\n"))
		}
	}
}

// alike reports whether two lines have the same words, and numbers that differ by one unit
// in the last place at most.
func alike(a, b string) bool {
	x, y := strings.Fields(a), strings.Fields(b)
	if len(x) != len(y) {
		return false
	}
	for i := range x {
		u, err1 := strconv.ParseFloat(x[i], 64)
		v, err2 := strconv.ParseFloat(y[i], 64)
		if err1 != nil || err2 != nil {
			if x[i] != y[i] {
				return false
			}
			continue
		}
		_, decimals, _ := strings.Cut(x[i], ".")
		if math.Abs(u-v) > 1.01*math.Pow(10, -float64(len(decimals))) {
			return false
		}
	}
	return true
}
