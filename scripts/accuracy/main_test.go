package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

func TestChoose(t *testing.T) {
	if all, err := choose(nil); err != nil || len(all) < 10 {
		t.Errorf("%d classes, %v; want all of them", len(all), err)
	}
	some, err := choose(list{"trial", "ramp"})
	if err != nil || len(some) != 2 || some[0].Name != "trial" {
		t.Errorf("choose(trial, ramp) = %d classes, %v", len(some), err)
	}
	_, err = choose(list{"sirens"})
	if err == nil || !strings.Contains(err.Error(), "sirens") || !strings.Contains(err.Error(), "no-rotor") {
		t.Errorf("an unknown class gives %v: it must name it and those there are", err)
	}
}

// TestDump: what -dump writes is the recording that was measured.
func TestDump(t *testing.T) {
	dir := t.TempDir()
	if err := run(list{"steady"}, list{"3"}, "", 0, 9, false, 0, dir); err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(dir, "steady-9-3")
	rec, err := tacho.Open(name + ".wav")
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(name + ".json")
	if err != nil {
		t.Fatal(err)
	}
	var kept struct {
		Scene   json.RawMessage
		Outcome struct {
			Class string
			Draw  int
			Speed struct{ Truth float64 }
		}
	}
	if err := json.Unmarshal(text, &kept); err != nil {
		t.Fatal(err)
	}
	scene, err := synth.ReadScene(strings.NewReader(string(kept.Scene)))
	if err != nil {
		t.Fatal(err)
	}
	take, err := scene.Make()
	if err != nil {
		t.Fatal(err)
	}
	x := rec.Channel(1)
	if len(x) != len(take.Samples[0]) {
		t.Fatalf("the file has %d samples, its scene makes %d", len(x), len(take.Samples[0]))
	}
	for i, v := range take.Samples[0] {
		// 24 bits: half a step is 6e-8
		if d := x[i] - v; d > 1e-7 || d < -1e-7 {
			t.Fatalf("sample %d is %g in the file and %g in its scene", i, x[i], v)
		}
	}
	if kept.Outcome.Class != "steady" || kept.Outcome.Draw != 3 || kept.Outcome.Speed.Truth != take.Truth.PulseRate(0) {
		t.Errorf("kept outcome %+v does not belong to the scene, whose rate is %g Hz", kept.Outcome, take.Truth.PulseRate(0))
	}
}
