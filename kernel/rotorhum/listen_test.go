package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"
	"unicode/utf8"

	"rotorhum/tacho"
	"rotorhum/tacho/listen"
	"rotorhum/tacho/listen/live"
)

func TestParseListen(t *testing.T) {
	o, _, err := parseListen([]string{"-pulses", "5", "-radius", "6cm±0.5mm", "-range", "20:500Hz", "-for", "20s", "-keep", "trial.WAV", "-raw", "44100:2:s24le", "-"})
	if err != nil {
		t.Fatal(err)
	}
	if o.rotor.Pulses != 5 || !o.rotor.HasRadius() || o.options.Range.Hi != 500 || o.length != 20*time.Second || o.keep != "trial.WAV" ||
		*o.raw != (listen.Format{Rate: 44100, Channels: 2, Encoding: listen.S24}) || !o.stdin {
		t.Errorf("parsed %+v", o)
	}
	for _, args := range []string{
		"-raw 48000", "-raw 48k -", "trial.wav", "- -", "-for -1s", "-keep trial.mp3", "-microphone a -rehearse b", "-rehearse a -",
		"-pulses 0", "-for soon",
	} {
		if _, _, err := parseListen(strings.Fields(args)); err == nil {
			t.Errorf("listen %s was taken", args)
		}
	}
}

// From a stream on standard input to the full measurement, as lines of JSON.
func TestListenToAStream(t *testing.T) {
	file, err := os.Open("../../datasets/whirligig-three-pushes.wav")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	old := os.Stdin
	os.Stdin = file
	defer func() { os.Stdin = old }()
	path := filepath.Join(t.TempDir(), "heard.wav")
	var out, errs bytes.Buffer
	if code := runListen([]string{"-pulses", "5", "-json", "-for", "12s", "-keep", path, "-"}, &out, &errs); code != exitOK {
		t.Fatalf("exit code %d: %s", code, errs.String())
	}
	if !strings.Contains(errs.String(), "1910.242") {
		t.Errorf("no caution about air jets: %s", errs.String())
	}
	lines := bufio.NewScanner(&out)
	lines.Buffer(nil, 1<<24)
	n, heard := 0, 0
	var last map[string]any
	for lines.Scan() {
		last = nil
		if err := json.Unmarshal(lines.Bytes(), &last); err != nil || last["schema"] != listenSchema {
			t.Fatalf("line %d: %v: %.100s", n, err, lines.Text())
		}
		if last["heard"] == true {
			heard++
		}
		n++
	}
	if want := int(12/live.Step) + 1; n != want || heard < n/2 {
		t.Errorf("%d lines, %d with a speed; want %d", n, heard, want)
	}
	if last["ended"] != "planned" || last["agree"] != true || last["file"] != path || last["measurement"] == nil {
		t.Errorf("the last line: %.300v", last)
	}
	rec, err := tacho.Open(path)
	if err != nil || rec.Seconds() != 12 || len(rec.Warnings) > 0 {
		t.Errorf("kept: %v, %v", rec, err)
	}

	// the same file is not overwritten
	out.Reset()
	errs.Reset()
	if code := runListen([]string{"-keep", path, "-plain", "-"}, &out, &errs); code != exitBadInput || !strings.Contains(errs.String(), "exists") {
		t.Errorf("a second trial in the same file: exit code %d: %s", code, errs.String())
	}
}

// What is no rotor gets no speed, and the lines say why.
func TestListenToSilence(t *testing.T) {
	folder := t.TempDir()
	silence := filepath.Join(folder, "silence.raw")
	if err := os.WriteFile(silence, make([]byte, 2*8000*2), 0o666); err != nil {
		t.Fatal(err)
	}
	file, err := os.Open(silence)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	old := os.Stdin
	os.Stdin = file
	defer func() { os.Stdin = old }()
	var out, errs bytes.Buffer
	code := runListen([]string{"-keep", filepath.Join(folder, "s.wav"), "-raw", "8000", "-"}, &out, &errs)
	if code != exitNoReading {
		t.Errorf("exit code %d: %s", code, errs.String())
	}
	for _, want := range []string{"listening to a stream of samples (8000 Hz, 1 channel, s16le)", "no speed: ", "silent", "no rotor was heard live"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("%q is missing in\n%s", want, out.String())
		}
	}
}

func TestListenSaysWhatIsWrong(t *testing.T) {
	folder := t.TempDir()
	for _, c := range []struct {
		args string
		code int
		says string
	}{
		{"-rehearse nowhere.wav", exitBadInput, "nowhere.wav"},
		{"-rehearse ../../datasets/card-wheel-run-up.wav -channel 4 -plain", exitBadUsage, "channel 4"},
		{"-microphone", exitBadUsage, "-h explains"},
	} {
		var out, errs bytes.Buffer
		args := append(strings.Fields(c.args), "-keep", filepath.Join(folder, "x.wav"))
		if c.args == "-microphone" {
			args = strings.Fields(c.args)
		}
		if code := runListen(args, &out, &errs); code != c.code || !strings.Contains(errs.String(), c.says) {
			t.Errorf("listen %s: exit code %d, want %d: %s", c.args, code, c.code, errs.String())
		}
	}
	if _, err := os.Stat(filepath.Join(folder, "x.wav")); !errors.Is(err, os.ErrNotExist) {
		t.Error("a file was left behind")
	}
}

// rehearsed are the states of a rehearsal, reading by reading.
var rehearsed = sync.OnceValues(func() (states []listen.State, err error) {
	rec, err := tacho.Open("../../datasets/whirligig-three-pushes.wav")
	if err != nil {
		return nil, err
	}
	_, err = listen.Listen("", listen.Settings{Live: true, Source: listen.Rehearse(rec, 0), Seconds: 12, Rotor: tacho.Rotor{Pulses: 5},
		Watch: func(s *listen.State) { states = append(states, *s) }})
	return states, err
})

// frames shows a rehearsal on a terminal and returns what it shows last.
func frames(t *testing.T, f *listenFrame, width, height int) (last []string) {
	t.Helper()
	states, err := rehearsed()
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range states {
		f.add(&s)
		last = f.lines(width, height)
		if len(last) > height {
			t.Fatalf("%d lines on a terminal of %d", len(last), height)
		}
		for i, line := range last {
			if n := utf8.RuneCountInString(sequence.ReplaceAllString(line, "")); n > width {
				t.Fatalf("line %d has %d characters on a terminal of %d by %d: %q", i, n, width, height, line)
			}
		}
	}
	return last
}

var sequence = regexp.MustCompile("\x1b\\[[0-9;?]*[a-zA-Z]")

func TestListenFrame(t *testing.T) {
	text := strings.Join(frames(t, &listenFrame{}, 100, 30), "\n")
	for _, want := range []string{"12.0 of 12 s", "rev/s", "rpm", "95 %:", "highest", "at 10.3", "Hz ┤", "-5 s", "now", "level", "any key ends", "Caution, "} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is missing in\n%s", want, text)
		}
	}
	// the lines of the rotor over its sound: marks beside what is loud
	if !strings.Contains(text, "ooo") || !strings.ContainsAny(text, "*#@") {
		t.Errorf("no sound, or no lines of the rotor, in\n%s", text)
	}
	if strings.Contains(text, "\x1b[38") {
		t.Error("colours where there are none")
	}
	if text := strings.Join(frames(t, &listenFrame{colours: true}, 100, 30), "\n"); !strings.Contains(text, "▀") || !strings.Contains(text, "\x1b[38;5;208m") {
		t.Errorf("no colours in\n%q", text)
	}
	for _, size := range [][2]int{{1, 1}, {20, 5}, {40, 12}, {80, 24}, {300, 100}} {
		frames(t, &listenFrame{colours: true}, size[0], size[1])
	}
}

// Clipping is shouted about, and for long enough to be seen.
func TestListenFrameWarnsOfClipping(t *testing.T) {
	var f listenFrame
	column := make([]float32, 100)
	at := func(second float64, clipped bool) string {
		f.add(&listen.State{ColumnHz: 20, Reading: live.Reading{At: second, Clipped: clipped, Peak: -1, Level: -6, Column: column}})
		return strings.Join(f.lines(80, 24), "\n")
	}
	if strings.Contains(at(1, false), "CLIPPED") {
		t.Error("a warning without a reason")
	}
	if !strings.Contains(at(1.05, true), "CLIPPED") || !strings.Contains(at(2, false), "CLIPPED") {
		t.Error("no warning of clipping")
	}
	if strings.Contains(at(4, false), "CLIPPED") {
		t.Error("the warning stays for ever")
	}
}

// A notebook that once listened runs again without a microphone, with the same
// outputs to the last byte, and names the recording in its provenance; where there
// is none yet, it says how to make one.
func TestRunFollowsAKeptRecording(t *testing.T) {
	dir := t.TempDir()
	kept, err := os.ReadFile("../../datasets/card-wheel-run-up.wav")
	if err != nil {
		t.Fatal(err)
	}
	trial := filepath.Join(dir, "trial.wav")
	name := put(t, dir, "live.ipynb", "#tag: parameters\nlive := false",
		"import \"rotorhum/tacho/listen\"",
		"heard := must(listen.Listen(\"trial.wav\", listen.Settings{Live: live}))\nheard")
	code, _, errs := call("run", name)
	if code != exitBadInput || !strings.Contains(errs, "set Live to true") {
		t.Errorf("without a recording: exit code %d: %s", code, errs)
	}
	if err := os.WriteFile(trial, kept, 0o666); err != nil {
		t.Fatal(err)
	}
	var texts []string
	for range 2 {
		if code, out, errs := call("run", name); code != exitOK {
			t.Fatalf("exit code %d, %s%s", code, out, errs)
		}
		texts = append(texts, fileText(t, filepath.Join(dir, "live.executed.ipynb")))
	}
	if texts[0] != texts[1] {
		t.Error("two runs of the notebook differ")
	}
	for _, want := range []string{`"output_type": "display_data"`, "highest live", `"name": "trial.wav"`} {
		if n := strings.Count(texts[0], want); n != 1 {
			t.Errorf("%q is %d times in the executed notebook, want once", want, n)
		}
	}
	code, _, errs = call("run", "-set", "live=true", name)
	if code != exitBadInput || !strings.Contains(errs, "left as it is") {
		t.Errorf("live, with a recording that is there: exit code %d: %s", code, errs)
	}
}
