package evidence

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A line that is missing in the other channel says nearly what it says alone, one that is
// there in both more than in either, and a place that is empty in both hardly less than one
// that is empty in one: it may be missing once, not twice.
func TestALineOfTwoChannels(t *testing.T) {
	line := New(0.7, 2e-4)
	loud, none := line.At(300), line.At(0.5)
	if got := Join(loud, none); got < loud-0.3 {
		t.Errorf("in the first only: %.2f nats, alone it says %.2f", got, loud)
	}
	if got := Join(none, loud); got < loud-1.1 || got > Join(loud, none) {
		t.Errorf("in the other only: %.2f nats, alone it says %.2f and in the first %.2f", got, loud, Join(loud, none))
	}
	if got := Join(loud, loud); got < loud+3 {
		t.Errorf("in both: %.2f nats, alone it says %.2f", got, loud)
	}
	if got := Join(none, none); got < none-0.3 {
		t.Errorf("in neither: %.2f nats, in one channel %.2f", got, none)
	}
	if got, want := Join(float32(loud), float32(none)), float32(Join(loud, none)); got != want {
		t.Errorf("%.4f in single precision, want %.4f", got, want)
	}
}

// A likelihood ratio of something to noise is one in the mean under noise, or less where
// other things are thought of (A. Wald 1945, Annals of Mathematical Statistics 16: 117, from
// memory): by what it is larger for the choice of channels noise passes more often.
func TestTwoChannelsOfNoisePassHardlyMoreOften(t *testing.T) {
	line := New(0.7, 2e-4)
	r := rand.New(rand.NewPCG(3, 4))
	const n = 400000
	one, two := 0.0, 0.0
	for range n {
		a, b := line.At(r.ExpFloat64()), line.At(r.ExpFloat64())
		one += math.Exp(a) / n
		two += math.Exp(Join(a, b)) / n
	}
	if one > 1.02 {
		t.Errorf("one channel of noise: likelihood ratio %.3f in the mean, want at most 1", one)
	}
	if most := math.Exp(-alone) + math.Exp(-aloneThere) + math.Exp(-inBoth); two > most {
		t.Errorf("two channels of noise: likelihood ratio %.3f in the mean, want at most %.2f", two, most)
	}
}
