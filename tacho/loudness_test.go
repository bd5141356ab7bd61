package tacho

import (
	"math"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// turning returns a stretch of two seconds at a constant rate, in hertz.
func turning(hz float64) *stretch { return turningFor(2, hz) }

// turningFor is turning for so many seconds.
func turningFor(seconds, hz float64) *stretch {
	r := &phase.Result{}
	for t := 0.0; t <= seconds; t += seconds / 100 {
		r.Blocks = append(r.Blocks, phase.Block{T: t, Length: 2 * seconds / 100})
		r.Motion = append(r.Motion, phase.Smooth{Phi: 2 * math.Pi * hz * t, Omega: 2 * math.Pi * hz})
		r.SNR = append(r.SNR, 10)
	}
	return &stretch{fit: r}
}

// sampled is the sound of samples, as they are.
func sampled(t *testing.T, fs float64, x []float64) *sound.Source {
	t.Helper()
	src, err := sound.New(func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }, []int{0}, len(x), fs, fs)
	if err != nil {
		t.Fatal(err)
	}
	return src
}

// two is two seconds of two stacks of lines in noise, with the mean power of each: half the
// sum of the squared amplitudes (Parseval's theorem).
func two(t *testing.T, fs float64, rates [2]float64, amps [2][]float64) (*sound.Source, [2]float64) {
	t.Helper()
	r := rand.New(rand.NewPCG(5, uint64(rates[0])))
	x := make([]float64, int(2.1*fs))
	var power [2]float64
	for k, list := range amps {
		for m, a := range list {
			angle := 2 * math.Pi * r.Float64()
			power[k] += a * a / 2
			for i := range x {
				x[i] += a * math.Cos(2*math.Pi*float64(m+1)*rates[k]*float64(i)/fs+angle)
			}
		}
	}
	for i := range x {
		x[i] += 0.1 * r.NormFloat64()
	}
	return sampled(t, fs, x), power
}

// clicks are the amplitudes of so many lines of what is struck by every pulse and rings at
// the middle one: a resonance, the curve of which is textbook physics.
func clicks(lines int) (a []float64) {
	for m := 1; m <= lines; m++ {
		x := float64(m) / float64(lines/2)
		a = append(a, 0.15/math.Hypot(1-x*x, x/4))
	}
	return a
}

// The powers of two stacks are told to within a quarter of a decibel wherever their lines
// lie: at odd ratios, and where every line of the one lies 2 or 3 Hz beside one of the
// other; and all lines of a slow one count, most of which lie beyond the twentieth.
func TestPowersOfTwoStacks(t *testing.T) {
	few := [2][]float64{{0.9, 0.3, 0.5, 0.7, 0.2}, {0.5, 0.4, 0.6, 0.1}}
	for _, c := range []struct {
		rates [2]float64
		amps  [2][]float64
	}{
		{[2]float64{200, 137.3}, few},
		{[2]float64{203, 50}, few},
		{[2]float64{100, 303}, few},
		{[2]float64{120, 123}, few},
		{[2]float64{311, 41.7}, [2][]float64{few[0], clicks(80)}},
	} {
		src, want := two(t, 16000, c.rates, c.amps)
		a, b := &parted{stretch: turning(c.rates[0])}, &parted{stretch: turning(c.rates[1])}
		var err error
		for range 3 { // as separate does
			for _, p := range [...][2]*parted{{a, b}, {b, a}} {
				p[0].alone, p[0].beside = src, nil
				if p[1].lines != nil {
					p[0].alone, p[0].beside = without(src, p[1].lines), []*phase.Stack{p[1].lines}
				}
				if p[0].lines, err = p[0].stack(p[0].alone, 0, p[0].beside...); err != nil || p[0].lines == nil {
					t.Fatalf("%g and %g Hz: no lines: %v", c.rates[0], c.rates[1], err)
				}
			}
		}
		var got [2]float64
		if got[0], got[1], err = powers(a, b, 0.1, 1.9, 0); err != nil {
			t.Fatal(err)
		}
		for k := range want {
			if d := 10 * math.Log10(got[k]/want[k]); !(math.Abs(d) <= 0.25) {
				t.Errorf("%g and %g Hz: power %.4f instead of %.4f, %+.2f dB", c.rates[0], c.rates[1], got[k], want[k], d)
			}
		}
	}
}

// Before the two are followed apart the louder is told as well: of a slow one whose lines
// are mostly beyond the twentieth, and which is a decibel and a half the louder of both.
func TestEnergiesOfTwoStacks(t *testing.T) {
	rates, amps := [2]float64{311, 41.7}, [2][]float64{{0.9, 0.3, 0.5, 0.7, 0.2}, clicks(80)}
	_, power := two(t, 16000, rates, amps)
	scale := math.Sqrt(power[0] / power[1] * math.Pow(10, 0.15))
	for m := range amps[1] {
		amps[1][m] *= scale
	}
	src, want := two(t, 16000, rates, amps)
	x, y, err := (&finder{src: src}).energies([]*stretch{turning(rates[0])}, []*stretch{turning(rates[1])}, 0)
	if err != nil {
		t.Fatal(err)
	}
	if d := 10 * math.Log10(y/x*want[0]/want[1]); !(math.Abs(d) <= 0.5) {
		t.Errorf("energies %.4f and %.4f: their ratio is off by %+.2f dB", x, y, d)
	}
}

// What is too long to be taken out of the sound gives the more all the same: a hum of five
// minutes and more has fifty-odd times the energy of a louder one of two seconds.
func TestEnergyOfWhatIsLong(t *testing.T) {
	const fs, long = 2000.0, longestStack + 10
	r := rand.New(rand.NewPCG(7, 8))
	x := make([]float64, int((long+1)*fs))
	for i := range x {
		at := float64(i) / fs
		x[i] = 0.3*math.Cos(2*math.Pi*97.3*at) + 0.2*math.Cos(2*math.Pi*2*97.3*at) + 0.1*r.NormFloat64()
		if at < 2 {
			x[i] += 0.6 * math.Cos(2*math.Pi*133.1*at)
		}
	}
	f := &finder{src: sampled(t, fs, x)}
	hum, brief := turningFor(long, 97.3), turning(133.1)
	a, b, err := f.energies([]*stretch{hum}, []*stretch{brief}, 0)
	if err != nil {
		t.Fatal(err)
	}
	if want := (0.3*0.3 + 0.2*0.2) / 2 * long; !(math.Abs(a/want-1) < 0.05) {
		t.Errorf("the long one has an energy of %.4f, want %.4f", a, want)
	}
	if want := 0.6 * 0.6 / 2 * 2; !(math.Abs(b/want-1) < 0.05) {
		t.Errorf("the brief one has an energy of %.4f, want %.4f", b, want)
	}
}
