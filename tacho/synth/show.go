package synth

import (
	"encoding/json"
	"fmt"
	"strings"
)

// String returns what the recording holds, in one line.
func (t *Take) String() string {
	s := fmt.Sprintf("%.1f s at %d Hz", t.Seconds(), t.Rate)
	if n := len(t.Samples); n > 1 {
		s += fmt.Sprintf(", %d channels", n)
	}
	s += ", " + t.Truth.String()
	for _, o := range t.Others {
		s += "; " + o.String()
	}
	return s
}

// String returns what is known about the rotor, in one line: its pulses and its
// highest speed, to a thousandth of a rev/s and of a second.
func (t Truth) String() string {
	if t.Pulses == 0 {
		return "no rotor"
	}
	var b strings.Builder
	if t.Name != "" {
		b.WriteString(t.Name + ": ")
	}
	fmt.Fprintf(&b, "%d pulses per turn, ", t.Pulses)
	if t.Steady {
		fmt.Fprintf(&b, "%.3f rev/s throughout", t.PeakSpeed)
	} else {
		fmt.Fprintf(&b, "fastest %.3f rev/s at %.3f s", t.PeakSpeed, t.PeakTime)
	}
	return b.String()
}

// String returns the scene as the JSON that [ReadScene] reads. A speed given as a
// function is not in it.
func (s Scene) String() string { return indented(s) }

// String returns the rotor as JSON, as it stands in a scene.
func (r Rotor) String() string { return indented(r) }

func indented(v any) string {
	text, err := json.MarshalIndent(v, "", "  ")
	if err != nil { // a number that JSON cannot hold, such as NaN
		return fmt.Sprintf("%T that JSON cannot hold: %v", v, err)
	}
	return string(text)
}
