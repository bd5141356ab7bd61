package main

import (
	"encoding/xml"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// executed writes a notebook with its outputs into dir.
func executed(t *testing.T, dir, name string, sources ...string) string {
	t.Helper()
	file := put(t, dir, name, sources...)
	if code, out, errs := call("run", "-quiet", "-inplace", "-nohtml", file); code != exitOK {
		t.Fatal(out, errs)
	}
	return file
}

// write writes a file.
func write(t *testing.T, name, text string) {
	t.Helper()
	if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
}

const readTone = "import \"os\"\nimport \"fmt\"\nfmt.Println(\"heard\", string(must(os.ReadFile(\"tone.txt\"))), 2.5)"

func TestVerify(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "tone.txt"), "440")
	stored := executed(t, dir, "stored.ipynb", readTone, "1 + 1")
	clean := put(t, dir, "clean.ipynb", "6 * 7")
	if code, out, errs := call("verify", dir); code != exitOK || !strings.Contains(out, "2 cells agree with what is stored") ||
		!strings.Contains(out, "1 cell without stored outputs: two fresh runs are the same") || errs != "" {
		t.Fatalf("exit code %d, %s%s", code, out, errs)
	}
	before, beforeClean := fileText(t, stored), fileText(t, clean)

	// A changed recording is named as the cause.
	write(t, filepath.Join(dir, "tone.txt"), "441")
	junit := filepath.Join(dir, "result.xml")
	code, out, _ := call("verify", "-junit", junit, dir)
	for _, want := range []string{stored + ": cell 1 (", "standard output, line 1", "stored  heard 440 2.5", "new     heard 441 2.5",
		"possible cause: tone.txt has changed: its SHA-256 was", "differs  " + stored, "ok       " + clean} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is not told in\n%s", want, out)
		}
	}
	if code != exitDiffers {
		t.Errorf("exit code %d, want %d", code, exitDiffers)
	}
	if fileText(t, stored) != before {
		t.Error("verify wrote to the notebook")
	}
	var suites junitSuites
	if err := xml.Unmarshal([]byte(fileText(t, junit)), &suites); err != nil || suites.Tests != 3 || suites.Failures != 1 || suites.Errors != 0 || len(suites.Suites) != 2 {
		t.Errorf("-junit: %v, %+v", err, suites)
	}
	if code, _, _ := call("verify", "-junit", junit, clean); code != exitOK {
		t.Errorf("writing the result a second time: exit code %d", code)
	}
	if code, _, _ := call("verify", "-junit", stored, clean); code != exitBadUsage || fileText(t, stored) != before {
		t.Errorf("-junit over a notebook: exit code %d", code)
	}

	// -update stores what is new, and only that.
	code, out, _ = call("verify", "-update", dir)
	if code != exitOK || !strings.Contains(out, `-      "heard 440 2.5\n"`) || !strings.Contains(out, `+      "heard 441 2.5\n"`) || !strings.Contains(out, "updated  "+stored) {
		t.Errorf("-update: exit code %d, %s", code, out)
	}
	if text := fileText(t, stored); !strings.Contains(text, "heard 441") || strings.Contains(text, "heard 440") {
		t.Errorf("-update stored\n%s", text)
	}
	if fileText(t, clean) != beforeClean {
		t.Error("-update wrote outputs into a notebook that is stored clean")
	}
	if code, out, _ := call("verify", "-quiet", stored); code != exitOK || strings.Contains(out, "ok  ") {
		t.Errorf("after -update: exit code %d, %s", code, out)
	}
}

func TestVerifyTolerance(t *testing.T) {
	dir := t.TempDir()
	const cell = "import (\"fmt\"; \"os\")\nfmt.Println(string(must(os.ReadFile(\"x.txt\"))), \"Hz\")"
	write(t, filepath.Join(dir, "x.txt"), "100.0")
	exact := executed(t, dir, "exact.ipynb", cell)
	tolerant := executed(t, dir, "tolerant.ipynb", "#tag: tolerance=1%\n"+cell)
	varies := executed(t, dir, "varies.ipynb", "#tag: output-varies\n"+cell)
	write(t, filepath.Join(dir, "x.txt"), "100.5")
	if code, out, _ := call("verify", dir); code != exitDiffers || !strings.Contains(out, "differs  "+exact) || !strings.Contains(out, "ok       "+tolerant) ||
		!strings.Contains(out, "ok       "+varies) || !strings.Contains(out, "1 cells state that their output varies") || !strings.Contains(out, "agree all the same") {
		t.Errorf("exit code %d, %s", code, out)
	}
	write(t, filepath.Join(dir, "x.txt"), "101.5")
	if code, out, _ := call("verify", tolerant); code != exitDiffers || !strings.Contains(out, "101.5 is 1.5 away from 100.0; the tolerance is 1 %") {
		t.Errorf("out of tolerance: exit code %d, %s", code, out)
	}
	bad := put(t, dir, "bad.ipynb", "#tag: tolerance=lots\n1")
	if code, out, _ := call("verify", bad); code != exitBadInput || !strings.Contains(out, "tolerance=lots") {
		t.Errorf("a tolerance that is none: exit code %d, %s", code, out)
	}
}

// A cell without stored outputs that shows something else every time is found,
// and so is a run that is stored and cannot be had again.
func TestVerifyTwice(t *testing.T) {
	dir := t.TempDir()
	changing := put(t, dir, "changing.ipynb", "import \"os\"\nn := len(must(os.ReadDir(\"marks\")))\nmust(os.CreateTemp(\"marks\", \"\"))\nn")
	if err := os.Mkdir(filepath.Join(dir, "marks"), 0o777); err != nil {
		t.Fatal(err)
	}
	if code, out, _ := call("verify", "-j", "1", changing); code != exitDiffers || !strings.Contains(out, "two fresh runs differ") {
		t.Errorf("exit code %d, %s", code, out)
	}
}

// What is at fault with one notebook is one line, the others are checked, and
// nothing is overwritten.
func TestVerifyGoesOn(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "tone.txt"), "440")
	good := executed(t, dir, "good.ipynb", "40 + 2")
	missing := executed(t, dir, "missing.ipynb", readTone)
	slow := put(t, dir, "slow.ipynb", "for {\n}")
	if err := os.Remove(filepath.Join(dir, "tone.txt")); err != nil {
		t.Fatal(err)
	}
	damaged, foreign := filepath.Join(dir, "damaged.ipynb"), filepath.Join(dir, "foreign.ipynb")
	write(t, damaged, `{"cells": [`)
	write(t, foreign, `{"cells": [], "metadata": {"kernelspec": {"name": "python3", "language": "python", "display_name": "P"}}, "nbformat": 4, "nbformat_minor": 4}`)
	outside := executed(t, t.TempDir(), "outside.ipynb", "1")
	if err := os.Symlink(outside, filepath.Join(dir, "link.ipynb")); err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob(filepath.Join(dir, "*.ipynb"))
	if err != nil {
		t.Fatal(err)
	}
	before := map[string]string{}
	for _, f := range files {
		before[f] = fileText(t, f)
	}
	code, out, _ := call("verify", "-update", "-timeout", "2s", dir)
	if code != exitBadInput {
		t.Errorf("exit code %d", code)
	}
	for _, want := range []string{
		"error    " + damaged + ": not a sound notebook: it ends in the middle of line 1",
		"error    " + foreign + ": notebook for another kernel: it is written in python",
		"error    " + missing + ": cell 1 (", "tone.txt: no such file", "possible cause: tone.txt was read then and is not read now: it is missing",
		"error    " + slow + ": cell 1 (", "ran longer than its limit of 2s",
		"ok       " + good, "passed over  " + filepath.Join(dir, "link.ipynb"), "1 of 5 notebooks ok, 4 could not be checked",
	} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is not told in\n%s", want, out)
		}
	}
	for f, text := range before {
		if fileText(t, f) != text {
			t.Errorf("%s was changed", f)
		}
	}
}

func TestVerifyUsage(t *testing.T) {
	dir := t.TempDir()
	name := put(t, dir, "a.ipynb", "1")
	for _, args := range [][]string{{}, {"-nosuch", name}, {"-j", "0", name}, {"-timeout", "-1s", name}, {"-in", "nowhere", name}, {name, "-update"}} {
		if code, _, errs := call(append([]string{"verify"}, args...)...); code != exitBadUsage || !strings.Contains(errs, "rotorhum verify -h") {
			t.Errorf("rotorhum verify %v: exit code %d, %q", args, code, errs)
		}
	}
	if code, _, errs := call("verify", t.TempDir()); code != exitBadInput || !strings.Contains(errs, "no notebook in it") {
		t.Errorf("an empty folder: exit code %d, %s", code, errs)
	}
	if code, out, _ := call("verify", "-h"); code != exitOK || !strings.Contains(out, "Example") || !strings.Contains(out, "tolerance=0.5%") {
		t.Errorf("-h: exit code %d, %s", code, out)
	}
	// Cells can work elsewhere than where the notebook lies.
	other := t.TempDir()
	write(t, filepath.Join(other, "tone.txt"), "440")
	reads := put(t, dir, "reads.ipynb", readTone)
	if code, out, _ := call("verify", "-in", other, reads); code != exitOK {
		t.Errorf("-in: exit code %d, %s", code, out)
	}
}
