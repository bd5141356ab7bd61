package tacho

import (
	"errors"
	"math"
	"testing"

	"rotorhum/tacho/synth"
)

// levelAfter returns the amplitude of a tone of amplitude 1 at f after
// decimation, away from the ends, in dB.
func levelAfter(t *testing.T, f, fs float64, step int) float64 {
	t.Helper()
	rec, err := NewRecording("tone", fs, synth.Tone(f, fs, 20000))
	if err != nil {
		t.Fatal(err)
	}
	slow, err := rec.Decimate(step)
	if err != nil {
		t.Fatal(err)
	}
	if want := fs / float64(step); slow.Rate != want || slow.Frames != (20000+step-1)/step {
		t.Fatalf("decimated by %d: %d frames at %g Hz, want %d at %g Hz", step, slow.Frames, slow.Rate, (20000+step-1)/step, want)
	}
	x := slow.Channel(1)
	x = x[decimateReach : len(x)-decimateReach]
	spec, err := NewSpectrum(x, slow.Rate, SpectrumOptions{Window: HFT90D})
	if err != nil {
		t.Fatal(err)
	}
	return spec.DB(spec.Bin(Alias(Hertz(f), Hertz(slow.Rate))))
}

// The figures that Decimate states, for every kind of step.
func TestDecimateKeepsAndRemoves(t *testing.T) {
	const fs = 48000
	for _, step := range []int{2, 3, 5, 6, 16, 24} {
		rate := fs / float64(step)
		for _, share := range []float64{0.11, 0.25, 0.4} {
			if got := levelAfter(t, share*rate, fs, step); math.Abs(got) > 0.005 { // the flat-top reads to 0.004 dB
				t.Errorf("step %d: a tone at %.2f of the new rate comes out at %.4f dB, want 0", step, share, got)
			}
		}
		for _, share := range []float64{0.52, 0.61, 0.9, 1.1, 1.37} {
			if share*rate > fs/2 {
				continue
			}
			if got := levelAfter(t, share*rate, fs, step); got > -90 {
				t.Errorf("step %d: a tone at %.2f of the new rate comes through at %.1f dB, want below -90", step, share, got)
			}
		}
	}
}

// The filter has no delay: a tone keeps its phase, and the channels stay apart.
func TestDecimateHasNoDelay(t *testing.T) {
	const fs, f, n, step = 44100.0, 300.0, 30000, 7
	rec, err := NewRecording("two tones", fs, synth.Tone(f, fs, n), synth.Scaled(synth.Tone(2*f, fs, n), 0.5))
	if err != nil {
		t.Fatal(err)
	}
	slow, err := rec.Decimate(step)
	if err != nil {
		t.Fatal(err)
	}
	const tolerance = 1e-4 // the ripple of the filter below 0.40 of the new rate
	for ch, want := range [][]float64{synth.Tone(f, slow.Rate, slow.Frames), synth.Scaled(synth.Tone(2*f, slow.Rate, slow.Frames), 0.5)} {
		got := slow.Channel(ch + 1)
		for i := decimateReach; i < slow.Frames-decimateReach; i++ {
			if math.Abs(got[i]-want[i]) > tolerance {
				t.Fatalf("channel %d, sample %d: %g, want %g", ch+1, i, got[i], want[i])
			}
		}
	}
}

func TestDecimateRefuses(t *testing.T) {
	rec, err := NewRecording("short", 8000, make([]float64, 160))
	if err != nil {
		t.Fatal(err)
	}
	if same, err := rec.Decimate(1); err != nil || same != rec {
		t.Errorf("a step of 1 gives %v, %v; want the recording itself", same, err)
	}
	if _, err := rec.Decimate(0); !errors.Is(err, ErrOption) {
		t.Errorf("a step of 0: %v, want ErrOption", err)
	}
	if _, err := rec.Decimate(2); !errors.Is(err, ErrTooShort) {
		t.Errorf("160 samples by 2: %v, want ErrTooShort", err)
	}
}
