package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestClean(t *testing.T) {
	dir := t.TempDir()
	name := put(t, dir, "a.ipynb", "1 + 1")
	if code, out, errs := call("clean", "-check", name); code != exitOK || out+errs != "" {
		t.Errorf("a clean notebook: exit code %d, %s%s", code, out, errs)
	}
	if code, _, errs := call("run", "-quiet", "-inplace", "-nohtml", name); code != exitOK {
		t.Fatal(errs)
	}
	dirty := fileText(t, name)
	if code, out, _ := call("clean", "-check", name); code != exitBadInput || !strings.Contains(out, name) {
		t.Errorf("-check of an executed notebook: exit code %d, %s", code, out)
	}
	if fileText(t, name) != dirty {
		t.Error("-check wrote to the notebook")
	}
	if code, _, _ := call("clean", "-outputs", name); code != exitOK || !strings.Contains(fileText(t, name), `"2"`) {
		t.Errorf("-outputs: exit code %d, %s", code, fileText(t, name))
	}
	if code, out, _ := call("clean", name); code != exitOK || !strings.Contains(out, "cleaned") || strings.Contains(fileText(t, name), `"2"`) {
		t.Errorf("exit code %d, %s", code, out)
	}
	before, err := os.Stat(name)
	if err != nil {
		t.Fatal(err)
	}
	if code, out, _ := call("clean", name); code != exitOK || out != "" {
		t.Errorf("cleaning twice: exit code %d, %s", code, out)
	}
	if after, err := os.Stat(name); err != nil || !os.SameFile(before, after) || !before.ModTime().Equal(after.ModTime()) {
		t.Errorf("a clean notebook was written again: %v", err)
	}

	damaged := filepath.Join(dir, "damaged.ipynb")
	if err := os.WriteFile(damaged, []byte("{"), 0o666); err != nil {
		t.Fatal(err)
	}
	if code, _, errs := call("clean", damaged, name); code != exitBadInput || !strings.Contains(errs, damaged) || fileText(t, damaged) != "{" {
		t.Errorf("a damaged notebook: exit code %d, %s", code, errs)
	}
	if code, _, _ := call("clean"); code != exitBadUsage {
		t.Errorf("no notebook: exit code %d", code)
	}
	if code, _, _ := call("clean", "-nosuch"); code != exitBadUsage {
		t.Errorf("unknown flag: exit code %d", code)
	}
	if code, out, _ := call("clean", "-h"); code != exitOK || !strings.Contains(out, "Example") {
		t.Errorf("-h: exit code %d, %s", code, out)
	}
}
