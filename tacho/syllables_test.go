package tacho

import (
	"math"
	"math/rand/v2"
	"testing"
)

// sung returns seconds of a stack of lines at 16 kHz whose rate sways smoothly about 170
// Hz, as loud all the time for a rotor and in syllables for a voice, and its rate. Of a
// voice each vowel has two resonances of its own, at 300 to 800 and at 900 to 2200 Hz, and
// between two lies a consonant (common practice).
func sung(seed uint64, seconds float64, voice bool) (x []float64, rate func(t float64) float64) {
	const fs = 16000.0
	r := rand.New(rand.NewPCG(seed, 7))
	a, b, c := 2*math.Pi*r.Float64(), 2*math.Pi*r.Float64(), 2*math.Pi*r.Float64()
	rate = func(t float64) float64 {
		return 170 * math.Exp(0.12*math.Sin(2*math.Pi*0.45*t+a)+0.06*math.Sin(2*math.Pi*1.1*t+b)+0.02*math.Sin(2*math.Pi*2.3*t+c))
	}
	x = make([]float64, int(seconds*fs))
	var phases [18]float64
	for h := range phases {
		phases[h] = 2 * math.Pi * r.Float64()
	}
	turned, end, begun := 0.0, 0.0, 0.0
	first, second, loud := 500.0, 1200.0, 1.0
	for i := range x {
		t := float64(i) / fs
		if t >= end {
			begun, end = t, t+0.14+0.1*r.Float64()
			first, second, loud = 300+500*r.Float64(), 900+1300*r.Float64(), 0.5+0.5*r.Float64()
		}
		f := rate(t)
		turned += f / fs
		gain, sum := 1.0, 0.0
		if voice {
			gain = loud * math.Sqrt(math.Max(0, math.Sin(math.Pi*math.Min(1, (t-begun)/(end-begun-0.04)))))
		}
		for h, p := range phases {
			hz := f * float64(h+1)
			y := 1.0
			if voice {
				y = 1/(1+math.Pow((hz-first)/120, 2)) + 0.4/(1+math.Pow((hz-second)/180, 2))
			}
			sum += y / float64(h+1) * math.Sin(2*math.Pi*float64(h+1)*turned+p)
		}
		x[i] = 0.2*gain*sum + 0.0005*r.NormFloat64()
	}
	return x, rate
}

// A voice may go on in pitch as if it made no pauses. That its loudness swells with every
// syllable tells it from a rotor of the very same motion.
func TestSyllablesMakeAVoice(t *testing.T) {
	t.Parallel()
	const seconds, all = 4, 6
	for seed := range uint64(all) {
		for _, voice := range []bool{true, false} {
			x, rate := sung(seed, seconds, voice)
			rec, err := NewRecording("sung", 16000, x)
			if err != nil {
				t.Fatal(err)
			}
			track, err := Follow(rec, Options{})
			if err != nil {
				t.Fatal(err)
			}
			if voice {
				if track.Verdict != VerdictNoReading {
					t.Errorf("seed %d: a voice is read as a rotor, %s", seed, track.Verdict)
				}
				continue
			}
			right := 0
			for _, p := range track.Points {
				if math.Abs(float64(p.Tone)/rate(p.T)-1) < 0.03 {
					right++
				}
			}
			if n := len(track.Points); float64(n)*trackStep < 0.95*seconds || right < n {
				t.Errorf("seed %d: of a rotor %d of %d points are right, want %.0f", seed, right, n, seconds/trackStep)
			}
		}
	}
}

// What grows with the speed as rotors do is no swell, nor is noise.
func TestSwellIsWhatTheSpeedDoesNotExplain(t *testing.T) {
	lines := func(power, noise, rate float64) *lineMeans {
		m := &lineMeans{rate: rate}
		for range 8 {
			m.excess, m.noise = append(m.excess, power), append(m.noise, noise)
		}
		return m
	}
	for _, c := range []struct {
		a, b *lineMeans
		want float64
	}{
		{lines(1, 1e-6, 100), lines(1, 1e-6, 100), 0},
		{lines(1, 1e-6, 100), lines(0.1, 1e-6, 100), 10},
		{lines(1, 1e-6, 100), lines(16, 1e-6, 200), 0},                        // the fourth power of the speed
		{lines(1, 1e-6, 100), lines(160, 1e-6, 200), 10},                      // and ten times that
		{lines(1, 1e-6, 200), lines(2, 1e-6, 100), 10 * math.Log10(2)},        // louder though slower
		{lines(1, 0.1, 100), lines(1.2, 0.1, 100), 0},                         // noise
		{lines(1, 1e-6, 100), lines(0, 1e-3, 100), 10 * math.Log10(1/2.5e-4)}, // into the noise
		{lines(1e-3, 1e-6, 100), lines(1e-3, 1e-6, 200), 0},                   // faster, no louder
		{lines(1, 1e-6, 200), lines(math.Pow(0.5, 4), 1e-6, 100), 0},          // braked
		{lines(1, 1e-6, 200), lines(math.Pow(0.5, 4)/100, 1e-6, 100), 20},     // and far softer
	} {
		got, ok := c.a.swellTo(c.b)
		if !ok || math.Abs(got-c.want) > 0.05*c.want+0.02 {
			t.Errorf("from %g at %g Hz to %g at %g Hz: %.2f dB, want %.2f", c.a.excess[0], c.a.rate, c.b.excess[0], c.b.rate, got, c.want)
		}
	}
	if _, ok := lines(1, 1, 100).swellTo(lines(1, 1, 100)); ok {
		t.Error("lines that do not stand out swell")
	}
	for _, agile := range []float64{0.01, 0.3, 1, 5} {
		last := 0.0
		for swell := 0.0; swell < 20; swell += 0.5 {
			v := syllables(swell, agile)
			if v > last+1e-9 || v < -6 {
				t.Errorf("agility %g, %g dB: %.2f nats after %.2f", agile, swell, v, last)
			}
			last = v
		}
	}
}
