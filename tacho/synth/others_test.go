package synth

import (
	"math"
	"testing"
)

// A voice must not pass for a rotor: its pitch moves by a semitone and more from
// moment to moment, and it pauses.
func TestVoiceMovesAndPauses(t *testing.T) {
	for seed := range uint64(8) {
		script := Voice{}.script(Source(seed), int(20/voiceFrame))
		voiced, silent := 0, 0
		low, high := math.Inf(1), 0.0
		for _, m := range script {
			switch {
			case m.voiced > 0.5:
				voiced++
				low, high = math.Min(low, m.pitch), math.Max(high, m.pitch)
			case m.voiced == 0 && m.hiss == 0:
				silent++
			}
		}
		n := float64(len(script))
		if part := float64(voiced) / n; part < 0.25 || part > 0.8 {
			t.Errorf("seed %d: vowels fill %.2f of the time", seed, part)
		}
		if part := float64(silent) / n; part < 0.1 {
			t.Errorf("seed %d: pauses fill only %.2f of the time", seed, part)
		}
		if high/low < 1.3 {
			t.Errorf("seed %d: the pitch stays from %.0f to %.0f Hz", seed, low, high)
		}
		if low < 40 || high > 500 {
			t.Errorf("seed %d: a pitch from %.0f to %.0f Hz is no voice", seed, low, high)
		}
	}
}

// The vocal cords must be heard at the pitch that the script says.
func TestVoiceSoundsAtItsPitch(t *testing.T) {
	const fs = 16000.0
	src := Source(11)
	v := Voice{Pitch: 120}
	x := v.render(nil, src, fs, 16000*10)
	script := v.script(Source(11), int(10/voiceFrame))
	right, all := 0, 0
	for k := 12; k+12 < len(script); k++ {
		m := script[k]
		steady := true
		for d := -9; d <= 9; d++ {
			if s := script[k+d]; s.voiced < 0.5 || math.Abs(s.pitch/m.pitch-1) > 0.02 {
				steady = false
			}
		}
		if !steady {
			continue
		}
		// The best lag of the autocorrelation of 60 ms, over three octaves.
		at := int(float64(k) * voiceFrame * fs)
		piece := x[at-480 : at+480]
		alike := make([]float64, 320)
		best, lag := 0.0, 0
		for l := 40; l < 320; l++ {
			for i := range len(piece) - 320 {
				alike[l] += piece[i] * piece[i+l]
			}
			best = math.Max(best, alike[l])
		}
		for l := 41; l < 319 && lag == 0; l++ { // the first lag that is as good, not its double
			if alike[l] > 0.8*best && alike[l] >= alike[l-1] && alike[l] >= alike[l+1] {
				lag = l
			}
		}
		all++
		if r := fs / float64(lag) / m.pitch; math.Abs(r-1) < 0.08 {
			right++
		}
	}
	if all < 20 || float64(right) < 0.8*float64(all) {
		t.Errorf("%d of %d steady moments sound at the scripted pitch", right, all)
	}
}

// The notes are those of equal temperament on A = 440 Hz (ISO 16): C4 is
// 261.6256 Hz, E4 329.6276, G4 391.9954 (equal temperament, many tables).
func TestMusicKeepsToTheScale(t *testing.T) {
	const fs = 8000.0
	x := Music{Harmonics: []float64{1}, Low: 261, Tempo: 60}.render(nil, Source(4), fs, 8000*20)
	if p := energyOf(x) / float64(len(x)); math.Abs(p-1) > 1e-9 {
		t.Errorf("mean power %v, want 1", p)
	}
	// The pentatonic scale from C4 on: C D E G A and the octave above.
	var scale []float64
	for _, s := range []float64{-9, -7, -5, -2, 0, 3, 5, 7, 10, 12} {
		scale = append(scale, 440*math.Pow(2, s/12))
	}
	for i, want := range map[int]float64{0: 261.6256, 2: 329.6276, 3: 391.9954, 4: 440} {
		if math.Abs(scale[i]-want) > 5e-5 {
			t.Errorf("note %d of the scale is %v Hz, want %v", i, scale[i], want)
		}
	}
	// The part of the power on the lines of the scale, moved by a factor, from
	// pieces of 100 ms under a Hann window whose weights add up to 800.
	on := func(factor float64) float64 {
		sum := 0.0
		for _, f := range scale {
			for start := 0; start+800 <= len(x); start += 800 {
				var re, im float64
				for i, v := range x[start : start+800] {
					s, c := math.Sincos(2 * math.Pi * factor * f * float64(i) / fs)
					w := 1 - math.Cos(2*math.Pi*float64(i)/800)
					re, im = re+w*v*c, im+w*v*s
				}
				sum += (re*re + im*im) * 2 / 800 / float64(len(x))
			}
		}
		return sum
	}
	// A window of 100 ms spreads a note by 10 Hz to either side: a quarter tone
	// from C4 is 7.7 Hz, from A5 25 Hz.
	if got := on(1); got < 0.9 || got > 1.1 {
		t.Errorf("%.2f of the power lies on the notes of the scale", got)
	}
	if got := on(math.Pow(2, 1.0/24)); got > 0.6 {
		t.Errorf("%.2f of the power lies a quarter tone above the scale", got)
	}
}

func TestMainsHumIsAsLoudAsAsked(t *testing.T) {
	take, err := Scene{Rate: 8000, Seconds: 2, Seed: 3, Mains: []Mains{{Hz: 50, LevelDB: 12, Harmonics: []float64{1, 0, 0.5}}}}.Make()
	if err != nil {
		t.Fatal(err)
	}
	x := take.Samples[0]
	want := 0.01 * math.Pow(10, 1.2) // over the power of an RMS of 0.1
	if got := energyOf(x) / float64(len(x)); math.Abs(got/want-1) > 1e-9 {
		t.Errorf("power of the hum %v, want %v", got, want)
	}
	amplitude := func(f float64) float64 {
		var re, im float64
		for i, v := range x {
			s, c := math.Sincos(2 * math.Pi * f * float64(i) / 8000)
			re, im = re+v*c, im+v*s
		}
		return 2 * math.Hypot(re, im) / float64(len(x))
	}
	if r := amplitude(150) / amplitude(50); math.Abs(r-0.5) > 1e-9 {
		t.Errorf("third harmonic over the first: %v, want 0.5", r)
	}
	if a := amplitude(100); a > 1e-9 {
		t.Errorf("a second harmonic of %v where none was asked", a)
	}
}

func TestClicksComeAtTheirRate(t *testing.T) {
	take, err := Scene{Rate: 8000, Seconds: 100, Seed: 3, Clicks: []Clicks{{PerSecond: 3, LevelDB: 0}}}.Make()
	if err != nil {
		t.Fatal(err)
	}
	x := take.Samples[0]
	count, quiet := 0, 1000
	for _, v := range x {
		if math.Abs(v) > 0.01 {
			if quiet > 80 {
				count++
			}
			quiet = 0
		} else {
			quiet++
		}
	}
	// 300 expected, scatter 17; a tenth of them fall into another's ring.
	if count < 220 || count > 350 {
		t.Errorf("%d clicks in 100 s, want about 300", count)
	}
}

func TestLevelsOfVoiceAndMusicAreRelativeToTheRotor(t *testing.T) {
	base := Scene{Rate: 8000, Seconds: 10, Seed: 5, Rotors: []Rotor{{Pulses: 5, Profile: Steady(20), Level: 0.3}}}
	alone, err := base.Make()
	if err != nil {
		t.Fatal(err)
	}
	for name, scene := range map[string]Scene{
		"voice": func() Scene { s := base; s.Voices = []Voice{{LevelDB: 4}}; return s }(),
		"music": func() Scene { s := base; s.Music = []Music{{LevelDB: 4, Parts: 2}}; return s }(),
	} {
		take, err := scene.Make()
		if err != nil {
			t.Fatal(err)
		}
		extra := make([]float64, len(take.Samples[0]))
		for i := range extra {
			extra[i] = take.Samples[0][i] - alone.Samples[0][i]
		}
		// A voice's level counts the time it speaks: over all it is softer.
		got := 10 * math.Log10(energyOf(extra)/float64(len(extra))/0.09)
		if name == "music" && math.Abs(got-4) > 0.01 || name == "voice" && (got > 4 || got < 1) {
			t.Errorf("%s: %.2f dB over the rotor, want 4", name, got)
		}
	}
}
