package main

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/go-audio/wav"
)

const testScene = `{"title": "t", "note": "n", "rate_hz": 8000, "seconds": 2, "seed": 1,
 "rotors": [{"pulses_per_rev": 5, "tip_radius_m": 0.06,
             "profile": {"kind": "ramp", "from_rev_per_s": 2, "to_rev_per_s": 14, "start_s": 0.5, "seconds": 1}}],
 "noise": [{"snr_db": 20}]}`

// synthRun runs the command in a folder of its own and returns what it said.
func synthRun(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	code = dispatch(append([]string{"synth"}, args...), &out, &errs)
	return code, out.String(), errs.String()
}

func writeFile(t *testing.T, path, text string) string {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestSynthMakesRecordingAndTruth(t *testing.T) {
	t.Chdir(t.TempDir())
	scene := writeFile(t, "scenes/run-up.json", testScene)
	code, out, errs := synthRun(t, "-truth", "truth.json", scene)
	if code != exitOK || errs != "" || !strings.Contains(out, "run-up.wav: 2.0 s at 8000 Hz, 5 pulses per turn, fastest 14.000 rev/s") {
		t.Fatalf("exit %d, said %q, complained %q", code, out, errs)
	}
	file, err := os.ReadFile("run-up.wav")
	if err != nil {
		t.Fatal(err)
	}
	dec := wav.NewDecoder(bytes.NewReader(file))
	if buf, err := dec.FullPCMBuffer(); err != nil || len(buf.Data) != 16000 || dec.SampleRate != 8000 || dec.BitDepth != 16 {
		t.Errorf("the recording: %v, %d Hz, %d bits", err, dec.SampleRate, dec.BitDepth)
	}
	var truth struct {
		Schema string `json:"schema"`
		Rotor  struct {
			Pulses int     `json:"pulses_per_rev"`
			Peak   float64 `json:"peak_rev_per_s"`
		} `json:"rotor"`
		Track []struct {
			T     float64 `json:"t_s"`
			Speed float64 `json:"rev_per_s"`
		} `json:"track"`
	}
	text, err := os.ReadFile("truth.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &truth); err != nil {
		t.Fatal(err)
	}
	if truth.Schema != "rotorhum.truth/1" || truth.Rotor.Pulses != 5 || truth.Rotor.Peak != 14 || len(truth.Track) != 201 {
		t.Errorf("truth %q: %d pulses, peak %v, %d points", truth.Schema, truth.Rotor.Pulses, truth.Rotor.Peak, len(truth.Track))
	}
	for _, p := range truth.Track {
		if want := 2 + 12*math.Max(0, math.Min(1, p.T-0.5)); math.Abs(p.Speed-want) > 1e-9 {
			t.Fatalf("track at %v s: %v, want %v", p.T, p.Speed, want)
		}
	}
}

func TestSynthNeverOverwritesUnasked(t *testing.T) {
	t.Chdir(t.TempDir())
	scene := writeFile(t, "s.json", testScene)
	writeFile(t, "s.wav", "precious")
	writeFile(t, "truth.json", "precious too")
	for _, args := range [][]string{{scene}, {"-o", "s.wav", scene}, {"-o", "new.wav", "-truth", "truth.json", scene}} {
		code, _, errs := synthRun(t, args...)
		if code != exitBadInput || !strings.Contains(errs, "-force") {
			t.Errorf("%v: exit %d, %q", args, code, errs)
		}
	}
	for path, want := range map[string]string{"s.wav": "precious", "truth.json": "precious too"} {
		if got, _ := os.ReadFile(path); string(got) != want {
			t.Errorf("%s was overwritten", path)
		}
	}
	if _, err := os.Stat("new.wav"); err == nil {
		t.Error("a recording was written although its truth could not be")
	}
	if code, _, errs := synthRun(t, "-force", "-truth", "truth.json", scene); code != exitOK {
		t.Errorf("-force: exit %d, %q", code, errs)
	}
	left, _ := filepath.Glob(".*")
	if len(left) != 0 {
		t.Errorf("temporary files are left: %v", left)
	}
}

func TestSynthAllMakesAFolderAndIsDoneTheSecondTime(t *testing.T) {
	dir := t.TempDir()
	writeFile(t, filepath.Join(dir, "scenes", "one.json"), testScene)
	writeFile(t, filepath.Join(dir, "scenes", "silence.json"), `{"title": "s", "note": "n", "rate_hz": 8000, "seconds": 1}`)
	if code, _, errs := synthRun(t, "-all", dir); code != exitOK {
		t.Fatalf("exit %d, %q", code, errs)
	}
	var m manifest
	text, err := os.ReadFile(filepath.Join(dir, "manifest.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &m); err != nil {
		t.Fatal(err)
	}
	if len(m.Recordings) != 2 || m.Recordings[0].Truth == nil || m.Recordings[0].Truth.PeakSpeed != 14 || m.Recordings[1].Truth != nil {
		t.Errorf("manifest: %+v", m.Recordings)
	}
	code, out, _ := synthRun(t, "-all", dir)
	if code != exitOK || strings.Count(out, "as it was") != 3 {
		t.Errorf("made again: exit %d, %q", code, out)
	}
	writeFile(t, filepath.Join(dir, "one.wav"), "precious")
	if code, _, errs := synthRun(t, "-all", dir); code != exitBadInput || !strings.Contains(errs, "one.wav") {
		t.Errorf("a foreign file in the way: exit %d, %q", code, errs)
	}
	if code, _, _ := synthRun(t, "-all", t.TempDir()); code != exitBadInput {
		t.Errorf("a folder without scenes: exit %d", code)
	}
}

func TestSynthSaysWhatIsWrong(t *testing.T) {
	t.Chdir(t.TempDir())
	broken := writeFile(t, "broken.json", "{\n\"rate_hz\": 8000,\n\"seconds\": \"two\"}")
	good := writeFile(t, "good.json", testScene)
	cases := []struct {
		args []string
		code int
		says string
	}{
		{nil, exitBadUsage, "-h"},
		{[]string{"a.json", "b.json"}, exitBadUsage, "-h"},
		{[]string{"-warp", "a.json"}, exitBadUsage, "warp"},
		{[]string{"-all", ".", good}, exitBadUsage, "-all"},
		{[]string{"missing.json"}, exitBadInput, "missing.json"},
		{[]string{broken}, exitBadInput, "broken.json: scene: line 3"},
		{[]string{"-bits", "12", good}, exitBadInput, "16, 24 or 32"},
		{[]string{"-force", "-o", "./good.json", good}, exitBadInput, "good.json"},
		{[]string{"-o", "x.wav", "-truth", "x.wav", good}, exitBadInput, "names of their own"},
		{[]string{"-o", "no/such/folder/x.wav", good}, exitBadInput, "no/such/folder"},
	}
	for _, c := range cases {
		code, _, errs := synthRun(t, c.args...)
		if code != c.code || !strings.Contains(errs, c.says) || strings.Count(errs, "\n") != 1 {
			t.Errorf("%v: exit %d, %q; want %d, one line that says %q", c.args, code, errs, c.code, c.says)
		}
	}
	code, out, _ := synthRun(t, "-h")
	if code != exitOK || !strings.Contains(out, "Example") {
		t.Errorf("-h: exit %d, %q", code, out)
	}
}
