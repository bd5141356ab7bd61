package device

import (
	"errors"
	"strings"
	"testing"
)

func TestChoose(t *testing.T) {
	all := []string{"Built-in Audio Analog Stereo", "Pier microphone", "Pier microphone (rear)", "Monitor of Built-in Audio"}
	for name, want := range map[string]int{
		"Pier microphone": 1, "rear": 2, "PIER MICROPHONE (REAR)": 2, "analog": 0, "Monitor": 3,
	} {
		if got, err := choose(name, all); err != nil || got != want {
			t.Errorf("choose(%q) = %d, %v; want %d", name, got, err, want)
		}
	}
	for name, says := range map[string]string{"pier": "could be several", "trumpet": "Pier microphone (rear)"} {
		if got, err := choose(name, all); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("choose(%q) = %d, %v; want an error that says %q", name, got, err, says)
		}
	}
	if _, err := choose("pier", nil); !errors.Is(err, ErrNone) {
		t.Errorf("choose among none: %v", err)
	}
}
