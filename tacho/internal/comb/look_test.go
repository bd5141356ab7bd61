package comb

import (
	"math"
	"testing"
)

// A whistle in one of two channels is found in frames with hardly less evidence than if that
// channel were all there is.
func TestFramesFindALineInOneOfTwoChannels(t *testing.T) {
	const fs, f = 8000, 310.0
	line := hum(1, 8000, fs, func(float64) float64 { return f }, []float64{1})
	noise := hum(2, 8000, fs, func(float64) float64 { return f }, nil)
	best := func(x ...[]float64) float64 {
		src := source(t, fs, x...)
		fr, err := Analyse(src, FrameOptions{Lo: 20, Hi: 2000, Hop: 0.02, Harmonics: 12, Keep: 20})
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, m := range fr.Moments[10:40] {
			most := 0.0
			for _, s := range m.States {
				if math.Abs(s.Rate/f-1) < 0.01 {
					most = math.Max(most, s.Evidence)
				}
			}
			sum += most * 0.128 / fr.Hop / 30 // nats of one frame
		}
		return sum
	}
	mono := best(line)
	loud := make([]float64, len(noise))
	for i, v := range noise {
		loud[i] = 3 * v
	}
	if got := best(line, noise); got < mono-0.4 {
		t.Errorf("a line in the louder channel only: %.2f nats, want about the %.2f of that channel alone", got, mono)
	}
	if got := best(line, loud); got < mono-1.2 {
		t.Errorf("a line in the other channel only: %.2f nats, want little less than the %.2f of that channel alone", got, mono)
	}
}
