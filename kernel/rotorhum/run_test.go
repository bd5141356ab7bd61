package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"

	"rotorhum/kernel/notebook"
)

// put writes a notebook of code cells into dir and returns its name. A source
// may start with "#tag: x" to tag the cell.
func put(t *testing.T, dir, name string, sources ...string) string {
	t.Helper()
	nb := &notebook.Notebook{Metadata: map[string]any{}}
	for _, s := range sources {
		c := &notebook.Cell{Kind: notebook.CodeCell, Source: s, Metadata: map[string]any{}}
		if tag, ok := strings.CutPrefix(s, "#tag: "); ok {
			tag, c.Source, _ = strings.Cut(tag, "\n")
			c.Metadata["tags"] = []any{tag}
		}
		nb.Cells = append(nb.Cells, c)
	}
	name = filepath.Join(dir, name)
	if err := nb.WriteFile(name); err != nil {
		t.Fatal(err)
	}
	return name
}

// call runs a command of the program.
func call(args ...string) (code int, stdout, stderr string) {
	var out, err bytes.Buffer
	code = dispatch(args, &out, &err)
	return code, out.String(), err.String()
}

func fileText(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func TestRun(t *testing.T) {
	dir := t.TempDir()
	name := put(t, dir, "spin.ipynb",
		"#tag: parameters\npulses := 5", "import \"fmt\"\nfmt.Println(\"tone\", pulses*40)\nfmt.Println(\"Hz\")", "#tag: raises-error\npanic(\"planned\")", "pulses + 1")
	source := fileText(t, name)
	code, out, errs := call("run", name)
	if code != exitOK {
		t.Fatalf("exit code %d, %s%s", code, out, errs)
	}
	executed, page := filepath.Join(dir, "spin.executed.ipynb"), filepath.Join(dir, "spin.executed.html")
	for _, want := range []string{"| tone 200", "| 6", "planned", executed, page} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is not shown in\n%s", want, out)
		}
	}
	if fileText(t, name) != source {
		t.Error("the notebook itself was changed")
	}
	first, firstPage := fileText(t, executed), fileText(t, page)
	for _, want := range []string{`"tone 200\n",`, `"execution_count": 4`, `"name": "rotorhum"`} {
		if !strings.Contains(first, want) {
			t.Errorf("the executed notebook lacks %s:\n%s", want, first)
		}
	}
	nb, err := notebook.ReadFile(executed)
	if err != nil {
		t.Fatal(err)
	}
	if p := nb.Provenance(); p == nil || p.Program.Go == "" || len(p.Runs) != 4 || p.Runs[3].Cell != nb.Cells[3].ID || !p.Runs[2].Failed {
		t.Errorf("the executed notebook says of its origin %+v", p)
	}
	if code, _, errs := call("clean", executed); code != exitOK || strings.Contains(fileText(t, executed), "provenance") {
		t.Errorf("cleaned, the notebook still says where its outputs came from: %d, %s", code, errs)
	}
	if !strings.Contains(firstPage, "tone 200") {
		t.Error("the page lacks the output")
	}
	if code, _, errs := call("run", "-quiet", name); code != exitOK {
		t.Fatal(errs)
	}
	if fileText(t, executed) != first || fileText(t, page) != firstPage {
		t.Error("running twice gives different files")
	}

	// Parameters, and results elsewhere.
	other := filepath.Join(dir, "made", "here")
	if code, out, errs := call("run", "-set", "pulses=7", "-dir", other, name); code != exitOK || !strings.Contains(out, "| tone 280") {
		t.Errorf("with pulses=7: exit code %d, %s%s", code, out, errs)
	}
	if text := fileText(t, filepath.Join(other, "spin.executed.ipynb")); !strings.Contains(text, `"pulses = 7"`) || !strings.Contains(text, "tone 280") {
		t.Errorf("with pulses=7 is stored\n%s", text)
	}
	if code, _, _ := call("run", "-quiet", "-nohtml", "-o", filepath.Join(dir, "x.ipynb"), name); code != exitOK {
		t.Errorf("-o: exit code %d", code)
	}
	if _, err := os.Stat(filepath.Join(dir, "x.html")); !os.IsNotExist(err) {
		t.Errorf("-nohtml wrote a page: %v", err)
	}
}

// The notebook of a trial runs to its end with another rotor's recording, as README
// says it does, and states that rotor's peak: 21.698 rev/s, the known truth of the
// synthesis (datasets/manifest.json).
func TestRunTheTrialOfAnotherRotor(t *testing.T) {
	wheel, err := filepath.Abs("../../datasets/card-wheel-run-up.wav")
	if err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(t.TempDir(), "mine.ipynb")
	code, out, errs := call("run", "-set", "recording="+wheel, "-set", "pulses=7", "-set", "moment=5.0",
		"-o", to, "../../notebooks/08_spin-up-trial.ipynb")
	if code != exitOK {
		t.Fatalf("exit code %d, %s%s", code, out, errs)
	}
	if !regexp.MustCompile(`shaft speed: 21\.(6[5-9]|7[0-4])`).MatchString(out) {
		t.Errorf("a peak within 0.05 of 21.698 rev/s is not shown in\n%s", out)
	}
}

func TestRunFails(t *testing.T) {
	dir := t.TempDir()
	for _, test := range []struct {
		name  string
		cells []string
		says  string
		kept  string
	}{
		{"compile", []string{"print(\"before\\n\")", "x := y"}, "cell 2", "CompileError"},
		{"panic", []string{"import \"fmt\"\nfmt.Println(\"before\")\nvar m map[string]int\nm[\"a\"] = 1"}, "cell 1", "before"},
		{"exit", []string{"import \"os\"\nmust(os.FindProcess(os.Getpid())).Kill()"}, "cell 1", notebook.FaultSessionEnded},
		{"unplanned success", []string{"#tag: raises-error\n1"}, "did not fail", `"1"`},
	} {
		name := put(t, dir, test.name+".ipynb", test.cells...)
		code, out, errs := call("run", name)
		if code != exitBadInput || !strings.Contains(errs, test.says) || strings.Count(errs, "\n") != 1 {
			t.Errorf("%s: exit code %d, %q, want %d and one line saying %q", test.name, code, errs, exitBadInput, test.says)
		}
		executed := strings.TrimSuffix(name, ".ipynb") + ".executed.ipynb"
		if !strings.Contains(out, executed) || !strings.Contains(fileText(t, executed), test.kept) {
			t.Errorf("%s: the executed notebook lacks %q", test.name, test.kept)
		}
	}
}

// One bad notebook does not keep the others from running.
func TestRunGoesOn(t *testing.T) {
	dir := t.TempDir()
	good := put(t, dir, "good.ipynb", "1")
	damaged := filepath.Join(dir, "damaged.ipynb")
	if err := os.WriteFile(damaged, []byte(`{"cells": [`), 0o666); err != nil {
		t.Fatal(err)
	}
	foreign := filepath.Join(dir, "foreign.ipynb")
	if err := os.WriteFile(foreign, []byte(`{"cells": [], "metadata": {"kernelspec": {"name": "python3", "language": "python", "display_name": "P"}}, "nbformat": 4, "nbformat_minor": 4}`), 0o666); err != nil {
		t.Fatal(err)
	}
	missing := filepath.Join(dir, "missing.ipynb")
	code, _, errs := call("run", damaged, foreign, missing, good)
	if code != exitBadInput {
		t.Errorf("exit code %d", code)
	}
	for _, want := range []string{damaged, foreign, missing, "written in python"} {
		if !strings.Contains(errs, want) {
			t.Errorf("%q is not named in\n%s", want, errs)
		}
	}
	fileText(t, filepath.Join(dir, "good.executed.ipynb"))
	for _, name := range []string{"damaged", "foreign", "missing"} {
		if _, err := os.Stat(filepath.Join(dir, name+".executed.ipynb")); !os.IsNotExist(err) {
			t.Errorf("%s: something was written", name)
		}
	}
	if code, _, errs := call("run", "-set", "pulses=7", good); code != exitBadInput || !strings.Contains(errs, "no parameters") {
		t.Errorf("-set without parameters: %d, %s", code, errs)
	}
}

func TestRunOverwritesNoSource(t *testing.T) {
	dir := t.TempDir()
	name := put(t, dir, "a.ipynb", "1 + 1")
	source := fileText(t, name)
	link, hard := filepath.Join(dir, "link.ipynb"), filepath.Join(dir, "hard.ipynb")
	if err := os.Symlink(name, link); err != nil {
		t.Fatal(err)
	}
	if err := os.Link(name, hard); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"-o", name}, {"-o", link}, {"-o", hard}, {"-html", name}} {
		code, _, errs := call(append(append([]string{"run"}, args...), name)...)
		if code != exitBadInput || !strings.Contains(errs, "-inplace") {
			t.Errorf("%v: exit code %d, %s", args, code, errs)
		}
		if fileText(t, name) != source {
			t.Fatalf("%v overwrote the source", args)
		}
	}
	if code, _, errs := call("run", "-quiet", "-inplace", "-nohtml", name); code != exitOK || !strings.Contains(fileText(t, name), `"2"`) {
		t.Errorf("-inplace: exit code %d, %s", code, errs)
	}
}

func TestRunUsage(t *testing.T) {
	for _, args := range [][]string{
		{}, {"-o", "x.ipynb", "a.ipynb", "b.ipynb"}, {"-html", "x.html", "a.ipynb", "b.ipynb"}, {"-nosuch", "a.ipynb"},
		{"-set", "pulses", "a.ipynb"}, {"-timeout", "-1s", "a.ipynb"}, {"-timeout", "soon", "a.ipynb"},
		{"-inplace", "-o", "x.ipynb", "a.ipynb"}, {"-nohtml", "-html", "x.html", "a.ipynb"},
		{"-dir", "out", "one/a.ipynb", "two/a.ipynb"}, {"-html", "x.ipynb", "-o", "x.ipynb", "a.ipynb"},
	} {
		code, _, errs := call(append([]string{"run"}, args...)...)
		if code != exitBadUsage || !strings.Contains(errs, "rotorhum run -h") {
			t.Errorf("rotorhum run %v: exit code %d, %q", args, code, errs)
		}
	}
	if code, out, _ := call("run", "-h"); code != exitOK || !strings.Contains(out, "Example") || !strings.Contains(out, "-timeout") {
		t.Errorf("rotorhum run -h: exit code %d, %s", code, out)
	}
}

// What a cell prints must not command the terminal.
func TestTerminalLine(t *testing.T) {
	for in, want := range map[string]string{
		"plain µ 漢":                    "plain µ 漢",
		"\x1b[31mred\x1b[0m":           "red",
		"\x1b]0;title\x07x":            "0;titlex",
		"a\x1b[2Jb\x1b[1;1Hc":          "abc",
		"tab\tand\rreturn\x08\u009b2J": "tab    andreturn2J",
		"\u202egnp.exe":                "gnp.exe",
	} {
		if got := terminalLine(in); got != want {
			t.Errorf("terminalLine(%q) = %q, want %q", in, got, want)
		}
	}
}

// onText is a writer that calls then once, when text has been written.
type onText struct {
	bytes.Buffer
	text string
	then func()
}

func (w *onText) Write(p []byte) (int, error) {
	n, err := w.Buffer.Write(p)
	if w.then != nil && strings.Contains(w.Buffer.String(), w.text) {
		then := w.then
		w.then = nil
		then()
	}
	return n, err
}

// Ctrl-C ends the running cell; what there is so far is written.
func TestRunInterrupted(t *testing.T) {
	dir := t.TempDir()
	name := put(t, dir, "a.ipynb", "40 + 2", "for {\n}", "never := 1")
	other := put(t, dir, "b.ipynb", "1")
	out := &onText{text: "[2/3]", then: func() { syscall.Kill(os.Getpid(), syscall.SIGINT) }}
	var errs bytes.Buffer
	if code := dispatch([]string{"run", name, other}, out, &errs); code != exitBadInput || !strings.Contains(errs.String(), "cell 2 failed: Interrupted") {
		t.Errorf("exit code %d, %s%s", code, out, errs.String())
	}
	executed := fileText(t, filepath.Join(dir, "a.executed.ipynb"))
	if !strings.Contains(executed, `"42"`) || !strings.Contains(executed, `"Interrupted"`) {
		t.Errorf("stored is\n%s", executed)
	}
	if _, err := os.Stat(filepath.Join(dir, "b.executed.ipynb")); !os.IsNotExist(err) {
		t.Errorf("the next notebook ran after the interrupt: %v", err)
	}
}
