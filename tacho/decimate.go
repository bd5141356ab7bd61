package tacho

import (
	"fmt"
	"math"
)

// Decimate returns the recording at a lower sample rate, Rate/step: it removes
// what the lower rate cannot hold and then keeps every step-th sample, beginning
// with the first.
//
// The filter is a sinc under a [BlackmanHarris] window of 80·step+1 samples,
// without delay. Up to 0.40 of the new rate it changes no tone by more than
// 0.001 dB; from half the new rate on, what would fold back is more than 90 dB
// down. Outside the recording it takes the sound as silent, so the first and
// last 40 of the new samples are not quite right. Name and Start stay those of r.
//
// A step of 1 returns r itself. Decimate returns ErrOption for a step below 1,
// ErrTooShort unless r fills the filter, and errors of reading the file.
func (r *Recording) Decimate(step int) (*Recording, error) {
	switch {
	case step < 1:
		return nil, optionError("decimation by %d: keep every sample (1), every second (2) and so on", step)
	case step == 1:
		return r, nil
	case r.Frames < 2*decimateReach*step+1:
		return nil, fmt.Errorf("%w: %q has %d samples; decimation by %d needs at least %d", ErrTooShort, r.Name, r.Frames, step, 2*decimateReach*step+1)
	}
	taps := decimator(step)
	half := len(taps) / 2
	out := make([][]float64, r.Channels)
	for ch := range out {
		x := make([]float64, r.Frames+2*half)
		if _, err := r.Block(ch, 0, x[half:half+r.Frames]); err != nil {
			return nil, err
		}
		out[ch] = make([]float64, (r.Frames+step-1)/step)
		for i := range out[ch] {
			sum := 0.0
			for j, w := range taps {
				sum += w * x[i*step+j]
			}
			out[ch][i] = sum
		}
	}
	slow, err := NewRecording(r.Name, r.Rate/float64(step), out...)
	if err != nil {
		return nil, err
	}
	slow.Start = r.Start
	return slow, nil
}

// decimateReach is how many of the new samples the filter reaches to either side.
const decimateReach = 40

// decimator returns the taps of the filter before decimation by step: an ideal
// low-pass at 0.45 of the new rate under a window whose main lobe is a tenth of
// the new rate wide.
func decimator(step int) []float64 {
	half := decimateReach * step
	taps := BlackmanHarris.Symmetric(2*half + 1)
	cut, sum := 0.9*math.Pi/float64(step), 0.0
	for i := range taps {
		if k := float64(i - half); k != 0 {
			taps[i] *= math.Sin(cut*k) / (cut * k)
		}
		sum += taps[i]
	}
	for i := range taps {
		taps[i] /= sum
	}
	return taps
}
