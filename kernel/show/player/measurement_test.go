package player_test

import (
	"encoding/json"
	"testing"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/show/player"
	"rotorhum/tacho"
)

// A measurement that a cell shows can be read by programs as well.
func TestMeasurementForPrograms(t *testing.T) {
	speed := tacho.Measured(12.5, 0.1, "rev/s", "tone")
	m := &tacho.Measurement{
		Recording: tacho.RecordingFacts{File: "a.wav", Rate: 44100, Channels: 1, Seconds: 1},
		Rotor:     tacho.Rotor{Pulses: 5}, Verdict: tacho.VerdictSteady, Speed: &speed,
		Derived: &tacho.Derived{RPM: tacho.Measured(750, 6, "rpm", "tone")},
		Points:  []tacho.SpeedPoint{{T: 0.5, Fr: 12.5, Lo95: 12, Hi95: 13}},
	}
	b, ok, err := player.Render(t.Context(), m)
	if err != nil || !ok {
		t.Fatalf("Render: %v, %v", ok, err)
	}
	if b.Data["text/plain"] != m.String() || b.Data["text/html"] != m.HTML() {
		t.Errorf("a measurement no longer shows itself: %v", b.Data)
	}
	text, err := json.Marshal(b.Data[cell.MeasureType])
	if err != nil {
		t.Fatal(err)
	}
	var read struct {
		Schema, Verdict string
		Speed           struct {
			RevPerS float64 `json:"rev_per_s"`
			Lo95    float64
		}
		Track []any
	}
	if err := json.Unmarshal(text, &read); err != nil || read.Schema != "rotorhum.measure/1" || read.Verdict != "steady" ||
		read.Speed.RevPerS != 12.5 || read.Speed.Lo95 >= 12.5 || read.Track != nil {
		t.Errorf("%v: programs read %s", err, text)
	}
	if len(m.Points) != 1 {
		t.Error("showing a measurement changed it")
	}
	if _, ok, err := player.Render(t.Context(), (*tacho.Measurement)(nil)); ok || err != nil {
		t.Errorf("Render(nil) = %v, %v", ok, err)
	}
}
