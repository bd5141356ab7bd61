package synth_test

import (
	"bytes"
	"math"
	"testing"

	"github.com/go-audio/wav"

	"rotorhum/tacho/synth"
)

func TestWAVHoldsTheSamples(t *testing.T) {
	take := mustMake(t, synth.Scene{Rate: 44100, Seconds: 0.1, Seed: 1, Channels: make([]synth.Channel, 2), Noise: []synth.Noise{synth.White(0)}})
	take.Samples[0][0], take.Samples[1][0] = 2, -2 // beyond full scale: limited
	for _, bits := range []int{16, 24, 32} {
		file, err := take.WAV(bits)
		if err != nil {
			t.Fatal(err)
		}
		if want := 44 + 2*4410*bits/8; len(file) != want {
			t.Errorf("%d bits: %d bytes, want %d", bits, len(file), want)
		}
		dec := wav.NewDecoder(bytes.NewReader(file))
		buf, err := dec.FullPCMBuffer()
		if err != nil {
			t.Fatal(err)
		}
		if dec.SampleRate != 44100 || dec.NumChans != 2 || int(dec.BitDepth) != bits {
			t.Errorf("%d bits: the header says %d Hz, %d channels, %d bits", bits, dec.SampleRate, dec.NumChans, dec.BitDepth)
		}
		step := math.Ldexp(1, 1-bits)
		for i, v := range buf.Data {
			x := math.Max(-1, math.Min(1-step, take.Samples[i%2][i/2]))
			if math.Abs(float64(v)*step-x) > step/2*(1+1e-9) {
				t.Fatalf("%d bits: sample %d of channel %d is %v, want %v", bits, i/2, i%2+1, float64(v)*step, x)
			}
		}
		again, err := take.WAV(bits)
		if err != nil || !bytes.Equal(file, again) {
			t.Errorf("%d bits: written twice, the files differ", bits)
		}
	}
}

func TestWAVRefusesWhatItCannotHold(t *testing.T) {
	good := mustMake(t, synth.Scene{Rate: 8000, Seconds: 0.1})
	if _, err := good.WAV(12); err == nil {
		t.Error("12 bits accepted")
	}
	cases := map[string]*synth.Take{
		"no channels":     {Rate: 8000},
		"no samples":      {Rate: 8000, Samples: [][]float64{{}}},
		"uneven channels": {Rate: 8000, Samples: [][]float64{{0, 0}, {0}}},
		"not a number":    {Rate: 8000, Samples: [][]float64{{math.NaN()}}},
	}
	for name, take := range cases {
		if _, err := take.WAV(16); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}
