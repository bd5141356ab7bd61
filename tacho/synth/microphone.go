package synth

import (
	"fmt"
	"math"
)

// Microphone is the roll-off of a recorder: a Butterworth high-pass and low-pass
// filter, 3 dB down at their corner frequencies.
type Microphone struct {
	// HighPass and LowPass, in hertz, are the corners; 0 means none.
	HighPass float64 `json:"high_pass_hz,omitempty"`
	LowPass  float64 `json:"low_pass_hz,omitempty"`
	// Order, from 1 to 8, is the steepness: 6 dB per octave each; 0 means 2.
	Order int `json:"order,omitempty"`
}

// apply filters x in place.
func (m Microphone) apply(w *work, x []float64, fs float64) {
	order := m.Order
	if order == 0 {
		order = 2
	}
	if m.HighPass > 0 {
		butterworth(w, x, m.HighPass, fs, order, true)
	}
	if m.LowPass > 0 {
		butterworth(w, x, m.LowPass, fs, order, false)
	}
}

// butterworth filters x in place by sections of second order (and one of first
// where the order is odd), from the analogue prototype by the bilinear transform
// with the corner frequency kept in its place.
//
// Source: the transform and the pole angles are textbook material.
func butterworth(w *work, x []float64, corner, fs float64, order int, high bool) {
	c := math.Tan(math.Pi * corner / fs)
	for k := 0; k < order/2 && w.err() == nil; k++ {
		damp := 2 * math.Sin(math.Pi*float64(2*k+1)/float64(2*order))
		a0 := 1 + damp*c + c*c
		a1, a2 := 2*(c*c-1)/a0, (1-damp*c+c*c)/a0
		b0, b1 := c*c/a0, 2*c*c/a0
		if high {
			b0, b1 = 1/a0, -2/a0
		}
		var x1, x2, y1, y2 float64
		for i, v := range x {
			y := b0*v + b1*x1 + b0*x2 - a1*y1 - a2*y2
			x2, x1, y2, y1 = x1, v, y1, y
			x[i] = y
		}
	}
	if order%2 == 1 {
		a1 := (c - 1) / (c + 1)
		b0, b1 := c/(c+1), c/(c+1)
		if high {
			b0, b1 = 1/(c+1), -1/(c+1)
		}
		var x1, y1 float64
		for i, v := range x {
			y := b0*v + b1*x1 - a1*y1
			x1, y1 = v, y
			x[i] = y
		}
	}
}

func (m Microphone) check(fs float64) error {
	if !(m.HighPass >= 0 && m.HighPass < fs/2) || !(m.LowPass >= 0 && m.LowPass < fs/2) {
		return fmt.Errorf("microphone: corner frequencies must lie between 0 and half the sample rate, %v Hz", fs/2)
	}
	if m.Order < 0 || m.Order > 8 {
		return fmt.Errorf("microphone: order is %d; give 1 to 8", m.Order)
	}
	return nil
}
