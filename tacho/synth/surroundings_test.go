package synth_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"

	"rotorhum/tacho/synth"
)

// density returns the power of x around the frequencies given, each within a
// third of an octave, over the width of that band.
func density(x []float64, fs float64, at ...float64) []float64 {
	n := len(x)
	c := fourier.NewFFT(n).Coefficients(nil, x)
	out := make([]float64, len(at))
	for i, f := range at {
		low, high := f*math.Pow(2, -1.0/6), f*math.Pow(2, 1.0/6)
		count := 0
		for k := range c {
			if g := float64(k) * fs / float64(n); g >= low && g < high {
				out[i] += real(c[k])*real(c[k]) + imag(c[k])*imag(c[k])
				count++
			}
		}
		out[i] /= float64(count)
	}
	return out
}

func db(ratio float64) float64 { return 10 * math.Log10(ratio) }

func TestNoiseHasItsColour(t *testing.T) {
	cases := map[string]struct {
		noise synth.Noise
		slope float64
	}{
		"white": {synth.White(0), 0},
		"pink":  {synth.Pink(0), -3.0103},
		"brown": {synth.Brown(0), -6.0206},
		"blue":  {synth.Noise{Slope: 3.0103}, 3.0103},
	}
	for name, c := range cases {
		x := mustMake(t, synth.Scene{Rate: 16000, Seconds: 30, Seed: 9, Noise: []synth.Noise{c.noise}}).Samples[0]
		// Without a rotor the power of a sound of RMS 0.1 stands in: at 0 dB the
		// standard deviation is 0.1. Brown noise is known to 2 %: few bins hold
		// most of its power.
		if got := math.Sqrt(variance(x)); math.Abs(got/0.1-1) > 0.1 {
			t.Errorf("%s: standard deviation %v, want 0.1", name, got)
		}
		d := density(x, 16000, 250, 500, 1000, 2000, 4000)
		for i := 1; i < len(d); i++ {
			// A third of an octave at 250 Hz over 30 s holds 1700 bins: 2.4 %, 0.1 dB.
			if got := db(d[i] / d[i-1]); math.Abs(got-c.slope) > 0.5 {
				t.Errorf("%s: octave %d rises by %.2f dB, want %.2f", name, i, got, c.slope)
			}
		}
	}
}

func TestNoiseBandHasSoftEdges(t *testing.T) {
	x := mustMake(t, synth.Scene{Rate: 16000, Seconds: 30, Seed: 2, Noise: []synth.Noise{{Low: 200, High: 2000}}}).Samples[0]
	d := density(x, 16000, 50, 632, 5000)
	// 12 dB per octave two octaves below 200 Hz; 24 dB per octave 1.32 octaves
	// above 2 kHz: the formula of ColouredNoise, averaged over the third octave.
	if got := db(d[0] / d[1]); math.Abs(got+24) > 1 {
		t.Errorf("at 50 Hz %.1f dB, want -24", got)
	}
	if got := db(d[2] / d[1]); math.Abs(got+31.8) > 1 {
		t.Errorf("at 5 kHz %.1f dB, want -31.8", got)
	}
}

func TestChannelsHaveNoiseOfTheirOwn(t *testing.T) {
	scene := synth.Scene{Rate: 8000, Seconds: 4, Seed: 4, Channels: make([]synth.Channel, 2), Noise: []synth.Noise{synth.White(0)}}
	correlation := func() float64 {
		x := mustMake(t, scene).Samples
		sum := 0.0
		for i, v := range x[0] {
			sum += v * x[1][i]
		}
		return sum / float64(len(x[0])) / math.Sqrt(variance(x[0])*variance(x[1]))
	}
	if got := correlation(); math.Abs(got) > 0.03 { // 5 sigma of 32000 samples
		t.Errorf("independent channels correlate by %v", got)
	}
	scene.Noise[0].Common = true
	if got := correlation(); math.Abs(got-1) > 1e-12 {
		t.Errorf("common noise correlates by %v, want 1", got)
	}
}

// Antiphase cancels in the sum, and a delay of a part of a sample shifts the
// phase of every line by just that time.
func TestStereoDelayGainAndPolarity(t *testing.T) {
	const delay = 0.00137
	take := mustMake(t, synth.Scene{Rate: 8000, Seconds: 1, Rotors: []synth.Rotor{{Pulses: 1, Profile: synth.Steady(100), Harmonics: []float64{1, 1, 1, 1, 1}}},
		Channels: []synth.Channel{{}, {Inverted: true}, {Gain: -6.0205999132796239, Delay: delay}}})
	for i, v := range take.Samples[0] {
		if v+take.Samples[1][i] != 0 {
			t.Fatalf("sample %d does not cancel", i)
		}
	}
	for f := 100.0; f <= 500; f += 100 {
		_, p0 := project(take.Samples[0], f, 8000)
		a, p := project(take.Samples[2], f, 8000)
		if math.Abs(a-0.5) > 1e-4 {
			t.Errorf("%v Hz: amplitude %v in the softer channel, want 0.5", f, a)
		}
		if d := math.Remainder(p0-p-2*math.Pi*f*delay, 2*math.Pi); math.Abs(d) > 1e-4 {
			t.Errorf("%v Hz: the delay is off by %v rad", f, d)
		}
	}
}

// A recorder that is 100 ppm fast makes every tone seem 100 ppm lower; the truth
// keeps the true speed, at the times of the file.
func TestClockError(t *testing.T) {
	const ppm = 100.0
	take := mustMake(t, synth.Scene{Rate: 8000, Seconds: 20, ClockPPM: ppm, Rotors: []synth.Rotor{{Pulses: 1, Profile: synth.Ramp(400, 300, 5, 10), Harmonics: []float64{1}}}})
	first := take.Samples[0][:8000*4]
	_, a := project(first[:8000], 400, 8000)
	_, b := project(first[3*8000:4*8000], 400, 8000)
	got := math.Remainder(b-a, 2*math.Pi) / (2 * math.Pi * 3) // hertz
	if want := -400 * ppm * 1e-6; math.Abs(got-want) > 1e-4 {
		t.Errorf("the tone is off by %v Hz, want %v", got, want)
	}
	if got, want := take.Truth.Speed(10), 400-10*(10/(1+ppm*1e-6)-5); math.Abs(got-want) > 1e-9 {
		t.Errorf("true speed at 10 s of the file: %v, want %v", got, want)
	}
}
