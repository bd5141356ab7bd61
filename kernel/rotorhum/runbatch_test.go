package main

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"rotorhum/kernel/notebook"
)

const measuring = `import "rotorhum/tacho"
rec := must(tacho.Open(recording))
must(tacho.Measure(rec, tacho.Rotor{Pulses: pulses}, tacho.Options{Pulses: pulses}))`

// recordings makes a folder with a hum of 187.5 pulses per second, a damaged
// recording and a file that is none.
func recordings(t *testing.T, dir string) string {
	t.Helper()
	folder := filepath.Join(dir, "recordings")
	if err := os.Mkdir(folder, 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(soundFile(t, "tone.wav", 1), filepath.Join(folder, "tone.wav")); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(folder, "damaged.wav"), "no sound")
	write(t, filepath.Join(folder, "notes.txt"), "not a recording")
	return folder
}

func TestBatch(t *testing.T) {
	dir := t.TempDir()
	folder := recordings(t, dir)
	name := put(t, dir, "m.ipynb", "#tag: parameters\nrecording := \"none.wav\"\npulses := 1", measuring)
	results, table := filepath.Join(dir, "results"), filepath.Join(dir, "t.csv")
	code, out, errs := call("run", "-each", "recording="+folder, "-set", "pulses=5", "-dir", results, "-table", table, name)
	if code != exitBadInput || errs != "" {
		t.Fatalf("exit code %d, %s%s", code, out, errs)
	}
	rows, err := csv.NewReader(strings.NewReader(fileText(t, table))).ReadAll()
	if err != nil || len(rows) != 3 || strings.Join(rows[0], ",") != csvHead {
		t.Fatalf("%v: the table is %q", err, rows)
	}
	damaged, tone := rows[1], rows[2]
	if filepath.Base(damaged[0]) != "damaged.wav" || damaged[1]+damaged[2] != "" || !strings.HasPrefix(damaged[7], "cell 3 (") {
		t.Errorf("the row of a damaged recording is %q", damaged)
	}
	speed, _ := strconv.ParseFloat(tone[2], 64)
	low, _ := strconv.ParseFloat(tone[3], 64)
	high, _ := strconv.ParseFloat(tone[4], 64)
	if filepath.Base(tone[0]) != "tone.wav" || tone[1] != "steady" || !(low < 37.5 && 37.5 < high && low < speed && speed < high) || tone[5] != "" || tone[7] != resultOK {
		t.Errorf("the row of 187.5 pulses per second, 5 per turn, is %q", tone)
	}
	for _, want := range []string{"recording", "95 % interval", "steady", "37.5"} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is not in the printed table\n%s", want, out)
		}
	}
	nb, err := notebook.ReadFile(tone[6])
	if err != nil || nb.Provenance() == nil || len(nb.Provenance().Files) != 1 || filepath.Base(nb.Provenance().Files[0].Name) != "tone.wav" {
		t.Errorf("%v: the executed notebook of %s does not name what it read", err, tone[0])
	}
	// A second time, now as JSON, over the results of the first.
	asJSON := filepath.Join(dir, "t.json")
	if code, _, errs := call("run", "-each", "recording="+folder, "-set", "pulses=5", "-dir", results, "-nohtml", "-table", asJSON, name); code != exitBadInput || errs != "" {
		t.Errorf("a second time: exit code %d, %s", code, errs)
	}
	var read struct{ Rows []batchRow }
	if err := json.Unmarshal([]byte(fileText(t, asJSON)), &read); err != nil || len(read.Rows) != 2 || read.Rows[1].RevPerS == nil || *read.Rows[1].RevPerS != speed {
		t.Errorf("%v: the table is %s", err, fileText(t, asJSON))
	}

	// A measurement of something else is not taken for one of the recording.
	other := put(t, dir, "other.ipynb", "#tag: parameters\nrecording := \"none.wav\"\npulses := 5",
		strings.Replace(measuring, "Open(recording)", "Open("+strconv.Quote(filepath.Join(folder, "tone.wav"))+")", 1))
	silent := put(t, dir, "silent.ipynb", "#tag: parameters\nrecording := \"none.wav\"", "1")
	for _, c := range []struct{ name, says string }{{other, "not of this recording"}, {silent, "no cell shows a measurement"}} {
		call("run", "-each", "recording="+folder, "-dir", filepath.Join(dir, "x"), "-nohtml", "-table", table, c.name)
		if text := fileText(t, table); strings.Count(text, c.says) < 1 || !strings.Contains(text, "damaged.wav,,,,,,") {
			t.Errorf("%s: the table is\n%s", c.name, text)
		}
		os.RemoveAll(filepath.Join(dir, "x"))
	}
}

func TestBatchRefuses(t *testing.T) {
	dir := t.TempDir()
	folder := filepath.Join(dir, "r")
	if err := os.Mkdir(folder, 0o777); err != nil {
		t.Fatal(err)
	}
	name := put(t, dir, "m.ipynb", "#tag: parameters\nrecording := \"none.wav\"\npulses := 1", "1")
	results := filepath.Join(dir, "results")
	for _, args := range [][]string{
		{"-each", "recording=" + folder, name}, {"-each", "recording", "-dir", results, name}, {"-table", "x.csv", name},
		{"-each", "recording=" + folder, "-dir", results, "-o", "x.ipynb", name}, {"-each", "recording=" + folder, "-dir", results, name, name},
		{"-each", "recording=" + folder, "-dir", results, "-j", "0", name},
	} {
		if code, _, errs := call(append([]string{"run"}, args...)...); code != exitBadUsage {
			t.Errorf("run %v: exit code %d, %s", args, code, errs)
		}
	}
	refused := func(says string, args ...string) {
		t.Helper()
		code, _, errs := call(append([]string{"run", "-dir", results}, args...)...)
		if _, err := os.Stat(results); code != exitBadInput || !strings.Contains(errs, says) || !os.IsNotExist(err) {
			t.Errorf("run %v: exit code %d, %q, want one that says %q and nothing written", args, code, errs, says)
		}
	}
	refused("no recording in it", "-each", "recording="+folder, name)
	write(t, filepath.Join(folder, "a.wav"), "")
	refused("no such file", "-each", "recording="+filepath.Join(dir, "none"), name)
	refused(`no parameter "sound"`, "-each", "sound="+folder, name)
	refused("whole number", "-each", "pulses="+folder, name)
	refused("set twice", "-each", "recording="+folder, "-set", "recording=x", name)
	refused("something else is in it", "-each", "recording="+folder, "-table", name, name)
}

func TestResultNames(t *testing.T) {
	all := []string{"r/a.wav", "r/A.WAV", "r/b.flac", "r/.wav", "r/c.d.wav"}
	for file, want := range map[string]string{"r/a.wav": "a.wav", "r/A.WAV": "A.WAV", "r/b.flac": "b", "r/.wav": ".wav", "r/c.d.wav": "c.d"} {
		if got := resultName(file, all); got != want {
			t.Errorf("resultName(%s) = %q, want %q", file, got, want)
		}
	}
	if got := asText("=cmd|' /C calc'!A0.wav"); strings.HasPrefix(got, "=") {
		t.Errorf("a spreadsheet would run %q", got)
	}
}
