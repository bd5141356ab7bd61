package synth

import (
	"math"
	"testing"
)

// gainAt returns by how many dB filter changes a tone of f hertz, which should
// complete whole periods in half a second, after half a second to settle.
func gainAt(filter func(x []float64) []float64, f, fs float64) float64 {
	n := int(fs) / 2
	x := Tone(f, fs, 2*n+n/2)
	y := filter(append([]float64(nil), x...))
	return 10 * math.Log10(energyOf(y[n:2*n])/energyOf(x[n:2*n]))
}

func energyOf(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return sum
}

// |H|² = 1/(1 + (f/fc)^(2 order)) for the analogue low-pass; the bilinear
// transform maps f to tan(pi f/fs).
func TestMicrophoneRollsOffLikeButterworth(t *testing.T) {
	const fs = 12000.0
	warp := func(f float64) float64 { return math.Tan(math.Pi * f / fs) }
	for _, order := range []int{1, 2, 3, 5, 8} {
		for _, f := range []float64{40, 150, 600, 2400, 5000} {
			x := math.Pow(warp(f)/warp(600), 2*float64(order))
			low, high := -10*math.Log10(1+x), -10*math.Log10(1+1/x)
			for _, c := range []struct {
				name string
				mic  Microphone
				want float64
			}{{"low-pass", Microphone{LowPass: 600, Order: order}, low}, {"high-pass", Microphone{HighPass: 600, Order: order}, high}} {
				if c.want < -120 {
					continue // below the rounding of the tone itself
				}
				got := gainAt(func(x []float64) []float64 { c.mic.apply(nil, x, fs); return x }, f, fs)
				if math.Abs(got-c.want) > 0.01 {
					t.Errorf("%s of order %d at %v Hz: %.3f dB, want %.3f", c.name, order, f, got, c.want)
				}
			}
		}
	}
}

func TestCodecKeepsItsBand(t *testing.T) {
	const fs = 44100.0
	apply := func(x []float64) []float64 { return Codec{Low: 300, High: 3400}.apply(nil, x, fs) }
	for f, inside := range map[float64]bool{100: false, 220: false, 380: true, 1000: true, 3300: true, 3500: false, 8000: false} {
		got := gainAt(apply, f, fs)
		if inside && math.Abs(got) > 0.05 || !inside && got > -60 {
			t.Errorf("%v Hz passes with %.2f dB", f, got)
		}
	}
	// No delay: a tone comes out in phase.
	x := Tone(1000, fs, 8820)
	y := apply(append([]float64(nil), x...))
	for i := 4000; i < 4100; i++ {
		if math.Abs(x[i]-y[i]) > 0.005 {
			t.Fatalf("sample %d: %v in, %v out", i, x[i], y[i])
		}
	}
}

// A mu-law line with 8 bits keeps a ratio of signal to rounding of about 38 dB
// over a wide range of levels (common practice; G.711 asks for 33 dB and more).
func TestCompandingRoundsInProportion(t *testing.T) {
	for _, level := range []float64{1, 0.3, 0.1, 0.03} {
		x := ToneAt(1003, level, 0, 8000, 8000)
		x[0] = 1 // full scale
		y := append([]float64(nil), x...)
		compand(nil, y)
		diff := 0.0
		for i := range x {
			diff += (x[i] - y[i]) * (x[i] - y[i])
		}
		if got := 10 * math.Log10(energyOf(x[1:])/diff); got < 35 || got > 42 {
			t.Errorf("a tone of %v: rounding %.1f dB below, want about 38", level, got)
		}
	}
}

func TestGainControlEvensOut(t *testing.T) {
	const fs = 8000
	soft := ToneAt(200, 0.05, 0, fs, 4*fs)
	x := append(append([]float64(nil), soft...), ToneAt(200, 0.5, 0, fs, 4*fs)...)
	GainControl{Strength: 1, Release: 0.3}.apply(nil, [][]float64{x}, fs)
	if got := 10 * math.Log10(energyOf(x[7*fs:])/energyOf(x[3*fs:4*fs])); math.Abs(got) > 1 {
		t.Errorf("20 dB apart before, %.2f dB apart after full evening out", got)
	}
	x = append(append([]float64(nil), soft...), ToneAt(200, 0.5, 0, fs, 4*fs)...)
	GainControl{Strength: 0.5, Release: 0.3}.apply(nil, [][]float64{x}, fs)
	if got := 10 * math.Log10(energyOf(x[7*fs:])/energyOf(x[3*fs:4*fs])); math.Abs(got-10) > 1 {
		t.Errorf("20 dB apart before, %.2f dB after evening out by half", got)
	}
	// Just after the step the recorder has not turned down yet.
	if early, late := energyOf(x[4*fs:4*fs+80]), energyOf(x[7*fs:7*fs+80]); early < 1.5*late {
		t.Errorf("the gain follows a step at once: %v then %v", early, late)
	}
}

func TestGainSteps(t *testing.T) {
	const fs = 8000
	x := Tone(200, fs, 3*fs)
	GainControl{Steps: []GainStep{{T: 1, Gain: -6}, {T: 2, Gain: 3}}}.apply(nil, [][]float64{x}, fs)
	for i, want := range []float64{0, -6, 3} {
		got := 10 * math.Log10(energyOf(x[i*fs+fs/2:(i+1)*fs])/(fs/4))
		if math.Abs(got-want) > 0.01 {
			t.Errorf("after step %d: %.3f dB, want %v", i, got, want)
		}
	}
}

func TestClipCutsOffTheAskedPart(t *testing.T) {
	for _, part := range []float64{0.01, 0.2, 0.9} {
		take, err := Scene{Rate: 8000, Seconds: 2, Seed: 1, Clip: part, Noise: []Noise{White(0)}, Channels: make([]Channel, 2)}.Make()
		if err != nil {
			t.Fatal(err)
		}
		count := 0
		for _, x := range take.Samples {
			for _, v := range x {
				if math.Abs(v) == 1 {
					count++
				}
				if math.Abs(v) > 1 {
					t.Fatalf("sample %v beyond full scale", v)
				}
			}
		}
		if got := float64(count) / 32000; math.Abs(got-part) > 1e-4 {
			t.Errorf("%v of the samples are clipped, want %v", got, part)
		}
	}
	silent := [][]float64{make([]float64, 10)}
	clip(silent, 0.2)
	if energyOf(silent[0]) != 0 {
		t.Error("clipping made sound out of silence")
	}
}

func TestDropouts(t *testing.T) {
	scene := Scene{Rate: 8000, Seconds: 60, Seed: 2, Rotors: []Rotor{{Pulses: 5, Profile: Steady(20), Harmonics: []float64{1}, Phases: []float64{0.5}}},
		Dropouts: &Dropouts{PerSecond: 2, Seconds: 0.05, At: []Interval{{From: 10, To: 10.5}}}}
	take, err := scene.Make()
	if err != nil {
		t.Fatal(err)
	}
	lost := 0.0
	for _, g := range take.Gaps {
		lost += g.To - g.From
		for i := int(math.Ceil(g.From * 8000)); i < int(g.To*8000); i++ {
			if take.Samples[0][i] != 0 {
				t.Fatalf("sound at %v s, within a gap", float64(i)/8000)
			}
		}
	}
	// About 110 gaps of 50 ms: 5.5 s and the one of 0.5 s; Poisson and exponential
	// scatter together about 13 %.
	if math.Abs(lost-6) > 2 || len(take.Gaps) < 80 || len(take.Gaps) > 150 {
		t.Errorf("%d gaps lose %.2f s, want about 110 and 6 s", len(take.Gaps), lost)
	}
	scene.Dropouts = &Dropouts{At: []Interval{{From: 1, To: 1.1}}, Hold: true}
	if take, err = scene.Make(); err != nil {
		t.Fatal(err)
	}
	x := take.Samples[0]
	for i := 8000; i < 8800; i++ {
		if x[i] != x[7999] {
			t.Fatalf("sample %d is %v, want the last one before the gap, %v", i, x[i], x[7999])
		}
	}
}

func TestQuantiseRoundsToSteps(t *testing.T) {
	x := []float64{0, 0.3, -0.3, 1, -1, 2, -2, 1.0 / 65536, 3.0 / 65536}
	want := []float64{0, 9830.0 / 32768, -9830.0 / 32768, 32767.0 / 32768, -1, 32767.0 / 32768, -1, 0, 2.0 / 32768}
	Quantise(x, 16)
	for i := range x {
		if x[i] != want[i] {
			t.Errorf("value %d: %v, want %v", i, x[i], want[i])
		}
	}
}

func TestPeakSetsTheLoudestSample(t *testing.T) {
	take, err := Scene{Rate: 8000, Seconds: 1, Seed: 1, Peak: 0.25, Rotors: []Rotor{{Pulses: 3, Profile: Steady(30), Level: 0.7}}, Noise: []Noise{White(10)}}.Make()
	if err != nil {
		t.Fatal(err)
	}
	loudest, power := 0.0, 0.0
	for _, v := range take.Samples[0] {
		loudest = math.Max(loudest, math.Abs(v))
	}
	for _, l := range take.Truth.Lines {
		power += l.Amplitude * l.Amplitude / 2
	}
	if math.Abs(loudest-0.25) > 1e-12 {
		t.Errorf("loudest sample %v, want 0.25", loudest)
	}
	if math.Abs(power/take.LinePower-1) > 1e-9 || math.Abs(take.LinePower/take.NoisePower-10) > 1e-9 {
		t.Errorf("after scaling: lines %v, LinePower %v, NoisePower %v", power, take.LinePower, take.NoisePower)
	}
}
