package synth_test

import (
	"math"
	"slices"
	"testing"

	"rotorhum/tacho/synth"
)

// Amplitudes of the harmonics n = 1 ... 9. Source: Fourier series of the square
// wave 4/(pi n) for odd n, the sawtooth 2/(pi n), the triangle 8/(pi n)² for odd
// n and the pulse 2/(pi n) |sin(pi n d)|, standard in textbooks; the numbers were
// worked out to ten digits from those formulas and by numerical integration.
var textbookSeries = map[string][9]float64{
	"square":          {1.2732395447, 0, 0.4244131816, 0, 0.2546479089, 0, 0.1818913635, 0, 0.1414710605},
	"sawtooth":        {0.6366197724, 0.3183098862, 0.2122065908, 0.1591549431, 0.1273239545, 0.1061032954, 0.0909456818, 0.0795774715, 0.0707355303},
	"triangle":        {0.8105694691, 0, 0.0900632743, 0, 0.0324227788, 0, 0.0165422341, 0, 0.0100070305},
	"pulse, duty 1/4": {0.4501581581, 0.3183098862, 0.1500527194, 0, 0.0900316316, 0.1061032954, 0.0643083083, 0, 0.0500175733},
}

func TestWavesHaveTheirTextbookHarmonics(t *testing.T) {
	const fs, f, n = 48000.0, 100.0, 4800 // ten periods, 239 harmonics
	waves := map[string][]float64{
		"square":          synth.Square(f, fs, n),
		"sawtooth":        synth.Sawtooth(f, fs, n),
		"triangle":        synth.Triangle(f, fs, n),
		"pulse, duty 1/4": synth.PulseTrain(f, 0.25, fs, n),
	}
	for name, want := range textbookSeries {
		for i, a := range want {
			got, _ := project(waves[name], float64(i+1)*f, fs)
			if math.Abs(got-a) > 1e-9 { // ten printed digits
				t.Errorf("%s, harmonic %d: %.10f, want %.10f", name, i+1, got, a)
			}
		}
	}
	mean := 0.0
	for _, v := range waves["pulse, duty 1/4"] {
		mean += v / n
	}
	if math.Abs(mean-0.25) > 1e-12 {
		t.Errorf("mean of the pulse train %v, want its duty 0.25", mean)
	}
}

// The total harmonic distortion of the waves, identities: square
// sqrt(pi²/8 - 1), triangle sqrt(pi⁴/96 - 1), sawtooth sqrt(pi²/6 - 1).
func TestWavesHaveTheirDistortion(t *testing.T) {
	const fs, f, n = 48000.0, 20.0, 2400 // 1199 harmonics
	cases := []struct {
		name string
		x    []float64
		want float64
		tol  float64 // what the harmonics beyond the rate would add
	}{
		{"square", synth.Square(f, fs, n), math.Sqrt(math.Pi*math.Pi/8 - 1), 1e-3},
		{"triangle", synth.Triangle(f, fs, n), math.Sqrt(math.Pow(math.Pi, 4)/96 - 1), 1e-9},
		{"sawtooth", synth.Sawtooth(f, fs, n), math.Sqrt(math.Pi*math.Pi/6 - 1), 1e-3},
	}
	for _, c := range cases {
		first, _ := project(c.x, f, fs)
		got := math.Sqrt(variance(c.x)/(first*first/2) - 1)
		if math.Abs(got-c.want) > c.tol {
			t.Errorf("%s: distortion %.6f, want %.6f", c.name, got, c.want)
		}
	}
	if got := math.Sqrt(math.Pi*math.Pi/8 - 1); math.Abs(got-0.483426) > 5e-7 {
		t.Errorf("the identity itself: %v", got)
	}
}

// A square wave of finitely many harmonics overshoots: partial sums of 1, 3, 5
// and 51 odd harmonics peak at these values (Gibbs 1899; the limit is
// (2/pi) Si(pi) = 1.178979744).
func TestSquareOvershootsAsGibbsSaid(t *testing.T) {
	for _, c := range []struct {
		terms int
		peak  float64
	}{{1, 1.27324}, {3, 1.18836}, {5, 1.18233}, {51, 1.17901}} {
		// The sample rate decides how many harmonics fit: up to 2 terms - 1. It is
		// too low to see the peak, so look between the samples of a coarse wave by
		// moving the period against the samples.
		fs := float64(4*c.terms) + 0.0137/2
		peak := 0.0
		for _, v := range synth.Square(1, fs, 40000) {
			peak = math.Max(peak, v)
		}
		if math.Abs(peak-c.peak) > 2e-5 {
			t.Errorf("%d harmonics peak at %.5f, want %.5f", c.terms, peak, c.peak)
		}
	}
}

// The dialling keys, ITU-T Q.23: four low and four high tones, one of each a key.
func TestDiallingTonesAreTwoLines(t *testing.T) {
	low, high := []float64{697, 770, 852, 941}, []float64{1209, 1336, 1477, 1633}
	const fs, n = 8000.0, 8000 // whole periods of every tone
	for _, l := range low {
		for _, h := range high {
			x := synth.Tones([]float64{l, h}, nil, fs, n)
			for _, f := range append(append([]float64(nil), low...), high...) {
				want := 0.0
				if f == l || f == h {
					want = 1
				}
				if got, _ := project(x, f, fs); math.Abs(got-want) > 1e-9 {
					t.Errorf("key %v+%v: %v at %v Hz, want %v", l, h, got, f, want)
				}
			}
		}
	}
}

// A siren disc with rows of 24 27 30 32 36 40 45 48 holes sounds a major scale
// in just intonation, whatever its speed (Harvard lecture demonstrations,
// "Siren discs"): the tone is holes times turns.
func TestSirenRowsSoundAMajorScale(t *testing.T) {
	ratios := map[int]float64{24: 1, 27: 9. / 8, 30: 5. / 4, 32: 4. / 3, 36: 3. / 2, 40: 5. / 3, 45: 15. / 8, 48: 2}
	const fs, speed = 8000.0, 11.0 // whole numbers of hertz in one second
	for holes, ratio := range ratios {
		take := mustMake(t, synth.Scene{Rate: fs, Seconds: 1, Rotors: []synth.Rotor{{
			Pulses: holes, Profile: synth.Steady(speed), Harmonics: []float64{1},
		}}})
		loudest, at := 0.0, 0.0
		for f := speed; f < 1000; f += speed {
			if a, _ := project(take.Samples[0], f, fs); a > loudest {
				loudest, at = a, f
			}
		}
		if got := at / (24 * speed); math.Abs(got-ratio) > 1e-12 {
			t.Errorf("%d holes sound %v times the first row, want %v", holes, got, ratio)
		}
		if take.Truth.PulseRate(0.5) != float64(holes)*speed {
			t.Errorf("%d holes: pulse rate %v", holes, take.Truth.PulseRate(0.5))
		}
	}
	// Sixteen holes at 1440 turns a minute sound 384 Hz (Tyndall's siren; from
	// memory).
	take := mustMake(t, synth.Scene{Rate: fs, Seconds: 1, Rotors: []synth.Rotor{{Pulses: 16, Profile: synth.Steady(1440.0 / 60), Harmonics: []float64{1}}}})
	if a, _ := project(take.Samples[0], 384, fs); math.Abs(a-1) > 1e-9 {
		t.Errorf("sixteen holes at 1440 rpm: amplitude %v at 384 Hz, want 1", a)
	}
}

func TestToneIsTheCosineItSays(t *testing.T) {
	const fs = 48000.0
	x := synth.ToneAt(1234.5, 0.7, 0.4, fs, 5000)
	for i, got := range x {
		want := 0.7 * math.Cos(2*math.Pi*1234.5*float64(i)/fs+0.4)
		if math.Abs(got-want) > 1e-11 { // angle 800 rad, rounding 1e-13 each
			t.Fatalf("sample %d: %v, want %v", i, got, want)
		}
	}
	// Above half the rate a tone appears at its mirror: 5 kHz at 8 kHz as 3 kHz.
	if a, _ := project(synth.Tone(5000, 8000, 800), 3000, 8000); math.Abs(a-1) > 1e-9 {
		t.Errorf("5 kHz sampled at 8 kHz: amplitude %v at 3 kHz, want 1", a)
	}
	if got := synth.Tone(1, 1, 0); len(got) != 0 {
		t.Errorf("n = 0 gives %d samples", len(got))
	}
}

func TestHumLeavesOutWhatDoesNotFit(t *testing.T) {
	x := synth.Hum(1000, []float64{0, 1, 0.5, 2}, 8000, 800)
	for f, want := range map[float64]float64{1000: 0, 2000: 1, 3000: 0.5} {
		if got, _ := project(x, f, 8000); math.Abs(got-want) > 1e-9 {
			t.Errorf("%v Hz: %v, want %v", f, got, want)
		}
	}
	// The fourth harmonic is at half the rate and is left out: power 1/2 + 1/8.
	if got := variance(x); math.Abs(got-0.625) > 1e-9 {
		t.Errorf("power %v, want 0.625", got)
	}
}

func TestChirpRunsFromEndToEnd(t *testing.T) {
	const fs, n, f0, f1 = 8000.0, 16000, 100.0, 900.0
	x := synth.Chirp(f0, f1, fs, n)
	for i, got := range x {
		at := float64(i) / fs
		want := math.Cos(2 * math.Pi * (f0*at + (f1-f0)/4*at*at))
		if math.Abs(got-want) > 1e-9 {
			t.Fatalf("sample %d: %v, want %v", i, got, want)
		}
	}
}

func TestTimes(t *testing.T) {
	if got := synth.Times(4, 3); !slices.Equal(got, []float64{0, 0.25, 0.5}) {
		t.Errorf("Times(4, 3) = %v, want 0, 0.25, 0.5", got)
	}
	if got := synth.Times(4, 0); len(got) != 0 {
		t.Errorf("Times(4, 0) = %v, want none", got)
	}
}
