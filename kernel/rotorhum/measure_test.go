package main

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rotorhum/tacho/synth"
)

// soundFile writes two seconds of sound at 8 kHz and returns its name: a hum of
// 187.5 Hz with the given level and white noise.
func soundFile(t *testing.T, name string, level float64) string {
	t.Helper()
	x := synth.WhiteNoise(synth.Source(5), 0.01, 16000)
	for i, h := range synth.Hum(187.5, []float64{0.3, 0.2, 0.1}, 8000, len(x)) {
		x[i] += level * h
	}
	take := synth.Take{Rate: 8000, Samples: [][]float64{x}}
	data, err := take.WAV(16)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// Common practice, no source: a three-lobed rotor heard at 187.5 Hz turns at
// 62.5 rev/s = 3750 rpm, and at a tip radius of 4 cm its tips move at 15.7 m/s
// = 56.5 km/h = 35.1 mile/h. Here from the file to the JSON.
func TestMeasureReading(t *testing.T) {
	path := soundFile(t, "hum.wav", 1)
	code, stdout, stderr := call("measure", "-pulses", "3", "-radius", "4cm±0.4mm", path)
	if code != exitOK || stderr != "" {
		t.Fatalf("exit %d, stderr %q; want 0 and nothing", code, stderr)
	}
	for _, want := range []string{"rev/s", "rpm", "m/s", "km/h", "mile/h", "95 % interval", "hum.wav", "radius"} {
		if !strings.Contains(stdout, want) {
			t.Errorf("the report does not say %q:\n%s", want, stdout)
		}
	}
	code, stdout, stderr = call("measure", "-pulses", "3", "-radius", "4cm±0.4mm", "-motion", "steady", "-json", "-", path)
	if code != exitOK || stderr != "" {
		t.Fatalf("exit %d, stderr %q; want 0 and nothing", code, stderr)
	}
	var m struct {
		Schema, Verdict string
		Speed           struct {
			Fr float64 `json:"rev_per_s"`
		}
		Derived map[string]struct{ Value, Lo95, Hi95 float64 }
	}
	d := json.NewDecoder(strings.NewReader(stdout))
	if err := d.Decode(&m); err != nil || d.More() {
		t.Fatalf("standard output is not one JSON document (%v):\n%s", err, stdout)
	}
	if m.Schema != "rotorhum.measure/1" || m.Verdict != "steady" {
		t.Errorf("schema %q, verdict %q", m.Schema, m.Verdict)
	}
	// Half of the last printed digit; the estimate itself is good to 1e-4.
	for key, want := range map[string]float64{"rpm": 3750, "tip_m_per_s": 15.7, "tip_km_per_h": 56.5, "tip_mi_per_h": 35.1} {
		tolerance := 0.05
		if key == "rpm" {
			tolerance = 1
		}
		if got := m.Derived[key]; math.Abs(got.Value-want) > tolerance || !(got.Lo95 < got.Value && got.Value < got.Hi95) {
			t.Errorf("%s = %+v, want %g within %g, inside its interval", key, got, want, tolerance)
		}
	}
	if math.Abs(m.Speed.Fr-62.5) > 0.02 {
		t.Errorf("speed %g rev/s, want 62.5", m.Speed.Fr)
	}
}

// Noise gives an honest "no reading", with its reason, in text and in JSON.
func TestMeasureNoReading(t *testing.T) {
	path := soundFile(t, "noise.wav", 0)
	code, stdout, stderr := call("measure", "-pulses", "3", path)
	if code != exitNoReading || stderr != "" || !strings.HasPrefix(stdout, "No reading") {
		t.Errorf("exit %d, stderr %q, report:\n%s\nwant 3, nothing, and No reading", code, stderr, stdout)
	}
	code, stdout, _ = call("measure", "-json", "-", path)
	var m map[string]any
	if err := json.Unmarshal([]byte(stdout), &m); err != nil || code != exitNoReading || m["verdict"] != "no_reading" {
		t.Errorf("exit %d, verdict %v (%v); want 3 and no_reading", code, m["verdict"], err)
	}
	if reasons, _ := m["reasons"].([]any); len(reasons) == 0 {
		t.Errorf("no reasons in %s", stdout)
	}
}

// Bad input is exit 1 and one line that names the file and says what to do.
func TestMeasureBadInput(t *testing.T) {
	dir := t.TempDir()
	text := filepath.Join(dir, "notes.wav")
	if err := os.WriteFile(text, []byte("this is no sound at all, and much longer than any header of a sound file"), 0o644); err != nil {
		t.Fatal(err)
	}
	empty := filepath.Join(dir, "empty.wav")
	if err := os.WriteFile(empty, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	for name, path := range map[string]string{"missing": filepath.Join(dir, "nothing.wav"), "text": text, "empty": empty, "folder": dir} {
		code, stdout, stderr := call("measure", "-json", "-", path)
		if code != exitBadInput || stdout != "" {
			t.Errorf("%s: exit %d, stdout %q; want 1 and nothing", name, code, stdout)
		}
		if strings.Count(stderr, "\n") != 1 || !strings.Contains(stderr, path) || !strings.Contains(stderr, ";") {
			t.Errorf("%s: stderr %q, want one line with the file and, behind a semicolon, what to do", name, stderr)
		}
	}
}

func TestMeasureBadUsage(t *testing.T) {
	path := soundFile(t, "hum.wav", 1)
	for _, args := range [][]string{
		{},
		{"-pulses", "0", path},
		{"-pulses", "-3", path},
		{"-pulses", "2.5", path},
		{"-radius", "6", path},
		{"-radius", "6s", path},
		{"-radius", "-6cm", path},
		{"-radius", "wide", path},
		{"-motion", "fast", path},
		{"-range", "100", path},
		{"-range", "800:30Hz", path},
		{"-range", "0:30Hz", path},
		{"-range", "1m:2m", path},
		{"-range", "5000:6000Hz", path}, // nothing above 4 kHz in it
		{"-channel", "0", path},
		{"-channel", "left", path},
		{"-channel", "2", path}, // it has one
		{"-clock", "-1", path},
		{"-clock", "NaN", path},
		{"-report", "page.pdf", path},
		{"-json", "x.html", "-report", "x.html", path},
		{"-json", "/nowhere/at/all.json", path},
		{"-json", path, path},
		{"-sideways", path},
		{path, "-pulses", "3"},
		{path, path},
	} {
		code, stdout, stderr := call(append([]string{"measure"}, args...)...)
		if code != exitBadUsage || stdout != "" || strings.Count(stderr, "\n") != 1 {
			t.Errorf("measure %q: exit %d, stdout %q, stderr %q; want 2, nothing, and one line", args, code, stdout, stderr)
		}
	}
}

func TestMeasureHelp(t *testing.T) {
	code, stdout, stderr := call("measure", "-h")
	if code != exitOK || stderr != "" {
		t.Errorf("exit %d, stderr %q; want 0 and nothing", code, stderr)
	}
	for _, want := range []string{"Example", "-pulses", "-radius", "-motion", "-range", "-channel", "-clock", "-json", "-report"} {
		if !strings.Contains(stdout, want) {
			t.Errorf("the help does not say %q", want)
		}
	}
	for _, line := range strings.Split(stdout, "\n") {
		if len([]rune(line)) > 110 {
			t.Errorf("a line of the help has %d columns: %q", len([]rune(line)), line)
		}
	}
}

// Results are written whole and may be made anew; whatever else is in a file of
// that name stays, above all the recording.
func TestMeasureWritesResults(t *testing.T) {
	path := soundFile(t, "hum.wav", 1)
	dir := t.TempDir()
	data, page := filepath.Join(dir, "m.json"), filepath.Join(dir, "m.html")
	if err := os.WriteFile(data, nil, 0o600); err != nil { // an empty file, as mktemp makes
		t.Fatal(err)
	}
	for range 2 {
		code, stdout, stderr := call("measure", "-pulses", "3", "-json", data, "-report", page, path)
		if code != exitOK || stderr != "" || !strings.Contains(stdout, "rev/s") {
			t.Fatalf("exit %d, stderr %q, stdout:\n%s", code, stderr, stdout)
		}
	}
	text, err := os.ReadFile(data)
	if err != nil || !json.Valid(text) {
		t.Errorf("%s is no JSON (%v): %s", data, err, text)
	}
	html, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"<!DOCTYPE html>", "rev/s", "hum.wav", "</html>"} {
		if !bytes.Contains(html, []byte(want)) {
			t.Errorf("the page does not hold %q", want)
		}
	}
	if n := bytes.Count(html, []byte(`src="data:image/png;base64,`)); n != 4 || bytes.Count(html, []byte("alt=")) != n {
		t.Errorf("the page holds %d pictures, want 4, each with its alternative text", n)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, ".*")); len(left) > 0 {
		t.Errorf("files left behind: %v", left)
	}

	// Somebody's own file is not written over, nor the recording by any name.
	own := filepath.Join(dir, "own.json")
	if err := os.WriteFile(own, []byte(`{"mine": true}`), 0o644); err != nil {
		t.Fatal(err)
	}
	alias := filepath.Join(dir, "alias.html")
	if err := os.Symlink(path, alias); err != nil {
		t.Fatal(err)
	}
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"-json", own}, {"-json", path}, {"-report", alias}, {"-json", dir}} {
		code, stdout, stderr := call(append(append([]string{"measure"}, args...), path)...)
		if code != exitBadUsage || stdout != "" || strings.Count(stderr, "\n") != 1 {
			t.Errorf("%q: exit %d, stdout %q, stderr %q; want 2, nothing, and one line", args, code, stdout, stderr)
		}
	}
	if after, _ := os.ReadFile(path); !bytes.Equal(before, after) {
		t.Error("the recording was written over")
	}
	if kept, _ := os.ReadFile(own); string(kept) != `{"mine": true}` {
		t.Errorf("somebody's file now holds %s", kept)
	}
	if code, _, stderr := call("measure", "-json", os.DevNull, path); code != exitOK {
		t.Errorf("-json %s: exit %d, stderr %q; want 0", os.DevNull, code, stderr)
	}
}

func TestMeasureFlags(t *testing.T) {
	o, _, err := parseMeasure([]string{"-radius", "6cm±0.5mm", "-range", "30:800Hz", "-channel", "mix", "-clock", "0", "a.wav"})
	if err != nil {
		t.Fatal(err)
	}
	if r := o.rotor.Radius; math.Abs(r.X-0.06) > 1e-15 || math.Abs(r.U()-0.0005) > 1e-15 || r.Unit != "m" || r.Parts[0].Name != "radius" {
		t.Errorf("radius %+v, want 0.06 m, 0.0005 m named radius", r)
	}
	if r := o.options.Range; r.Lo != 30 || r.Hi != 800 {
		t.Errorf("range %v, want 30 to 800 Hz", r)
	}
	if o.options.Channel != -1 || o.options.ClockPPM >= 0 {
		t.Errorf("channel %d, clock %g; want the mix and a perfect clock", o.options.Channel, o.options.ClockPPM)
	}
	for text, want := range map[string][2]float64{
		"20:6000Hz": {20, 6000}, "20:6000": {20, 6000}, "20Hz:6kHz": {20, 6000}, "0.02:6kHz": {20, 6000}, " 20 : 6000 Hz ": {20, 6000},
	} {
		r, err := parseRange(text)
		if err != nil || math.Abs(float64(r.Lo)-want[0]) > 1e-12 || math.Abs(float64(r.Hi)-want[1]) > 1e-12 {
			t.Errorf("range %q = %v, %v; want %v", text, r, err, want)
		}
	}
}

// The bar only goes forward, and leaves an empty line behind.
func TestProgressBar(t *testing.T) {
	var b bytes.Buffer
	show, done := barOn(&b)
	for _, share := range []float64{0, 0.5, 0.25, 0.5001, 1, 2} {
		show(share)
	}
	done()
	show(0.3)
	if n := strings.Count(b.String(), "measuring"); n != 3 {
		t.Errorf("drawn %d times, want 3: at 0, 50 and 100 %%: %q", n, b.String())
	}
	if !strings.HasSuffix(b.String(), "\r\x1b[K") {
		t.Errorf("the bar is left standing: %q", b.String())
	}
	if show, _ := progressBar(&b); show != nil {
		t.Error("a bar on something that is no terminal")
	}
}
