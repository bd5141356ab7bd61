package synth_test

import (
	"math"
	"strings"
	"testing"

	"rotorhum/tacho/synth"
)

// A scene that prints itself can be read again; nothing prints an address, which
// would change from run to run.
func TestEverythingPrintsItself(t *testing.T) {
	scene := synth.Scene{Title: "a & b", Rate: 8000, Seconds: 1.5, Room: &synth.Room{RT60: 0.3}, Channels: make([]synth.Channel, 2), Rotors: []synth.Rotor{
		{Name: "siren disc", Pulses: 12, Profile: synth.Steady(24.6), Jet: &synth.Jet{Depth: 0.1}},
		{Pulses: 5, Profile: synth.Ramp(1, 3, 0, 1)},
	}}
	read, err := synth.ReadScene(strings.NewReader(scene.String()))
	if err != nil || read.String() != scene.String() {
		t.Errorf("printed and read again: %v\n%s", err, read)
	}
	take := mustMake(t, scene)
	if got, want := take.String(), "1.5 s at 8000 Hz, 2 channels, siren disc: 12 pulses per turn, 24.600 rev/s throughout; 5 pulses per turn, fastest 3.000 rev/s at 1.000 s"; got != want {
		t.Errorf("take: %q, want %q", got, want)
	}
	if got := (synth.Truth{}).String(); got != "no rotor" {
		t.Errorf("no rotor: %q", got)
	}
	for _, s := range []string{take.String(), take.Truth.String(), scene.String(), scene.Rotors[0].String()} {
		if strings.Contains(s, "0x") {
			t.Errorf("an address in %q", s)
		}
	}
	if got := (synth.Rotor{Growth: math.NaN()}).String(); !strings.Contains(got, "NaN") {
		t.Errorf("a rotor with NaN: %q", got)
	}
}
