package comb

import (
	"math"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/evidence"
	"rotorhum/tacho/internal/sound"
)

// hum returns n samples of a stack whose rate is rate(t), with unit noise.
func hum(seed uint64, n int, fs float64, rate func(t float64) float64, amps []float64) []float64 {
	r := rand.New(rand.NewPCG(seed, 2))
	x := make([]float64, n)
	phi := 0.0
	for i := range x {
		phi += 2 * math.Pi * rate(float64(i)/fs) / fs
		for m, a := range amps {
			x[i] += a * math.Cos(float64(m+1)*phi+float64(m*m))
		}
		x[i] += r.NormFloat64()
	}
	return x
}

func source(t *testing.T, fs float64, x ...[]float64) *sound.Source {
	t.Helper()
	channels := make([]int, len(x))
	for c := range channels {
		channels[c] = c
	}
	s, err := sound.New(func(ch, start int, dst []float64) (int, error) { return copy(dst, x[ch][start:]), nil },
		channels, len(x[0]), fs, fs)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestScanFindsTheRateNotItsMultiples(t *testing.T) {
	// a tenth of the noise's power in all: -10 dB
	amps := []float64{0.2, 0.2, 0.2, 0.2, 0.2}
	for seed := range uint64(10) {
		f := 70 + 30*float64(seed)
		x := hum(seed, 8000, 8000, func(float64) float64 { return f }, amps)
		s := NewSpectrum([][]float64{x}, 8000, nil)
		best, trials := NewScanner(30).Scan(s, 30, 800, 5)
		if math.Abs(best[0].Rate-f) > 0.5 {
			t.Errorf("rate %.2f Hz found, want %.0f (%v)", best[0].Rate, f, best)
		}
		if odds := best[0].Evidence - math.Log(trials); odds < 5 {
			t.Errorf("%.0f Hz: log odds %.1f, want more than 5", f, odds)
		}
	}
}

func TestScanOfNoiseIsNoEvidence(t *testing.T) {
	for seed := range uint64(20) {
		x := hum(seed, 8000, 8000, func(float64) float64 { return 1 }, nil)
		best, trials := NewScanner(30).Scan(NewSpectrum([][]float64{x}, 8000, nil), 30, 800, 1)
		// one in several hundred passes -1.5
		if odds := best[0].Evidence - math.Log(trials); odds > 0 {
			t.Errorf("seed %d: log odds %.2f for noise", seed, odds)
		}
	}
}

func TestFramesHoldAFastRamp(t *testing.T) {
	const fs = 16000.0
	rate := func(t float64) float64 { return 60 * math.Exp(1.5*t) } // 150 % per second
	x := hum(3, int(1.2*fs), fs, rate, []float64{0.6, 0.5, 0.4, 0.3})
	f, err := Analyse(source(t, fs, x), FrameOptions{Lo: 20, Hi: 2000, Hop: 0.02, Harmonics: 12, Keep: 24})
	if err != nil {
		t.Fatal(err)
	}
	good := 0
	moments := 0
	for i, m := range f.Moments {
		at := float64(i) * f.Hop
		if at < 0.2 || at > 1 {
			continue
		}
		moments++
		for _, s := range m.States {
			if math.Abs(s.Rate/rate(at)-1) < 0.02 && math.Abs(s.Slope-1.5) < 1 {
				good++
				break
			}
		}
	}
	if good < moments*9/10 {
		t.Errorf("%d of %d frames hold the true rate and slope among their candidates", good, moments)
	}
}

func TestFastLogarithms(t *testing.T) {
	for x := 1e-6; x < 1e12; x *= 1.37 {
		if d := fastLog2(x) - math.Log2(x+1e-9); math.Abs(d) > 0.03 {
			t.Errorf("fastLog2(%g) is off by %.3f, want at most 0.03", x, d)
		}
	}
	for x := -40.0; x < 40; x += 0.173 {
		if d := fastExp2(x)/math.Exp2(x) - 1; math.Abs(d) > 0.004 {
			t.Errorf("fastExp2(%g) is off by %.4f, want at most 0.004", x, d)
		}
	}
}

func TestOrdersOfAChangingRate(t *testing.T) {
	const fs, seconds = 16000.0, 4.0
	turn := func(t float64) float64 { return 60*t + 8*t*t } // 60 to 124 per second
	rate := func(t float64) float64 { return 60 + 16*t }
	// every third line is strong: pulses of a rotor with three unequal blades
	x := hum(4, int(seconds*fs), fs, rate, []float64{0.15, 0.12, 1.5, 0.1, 0.12, 1.2, 0.1, 0.1, 0.9})
	o, err := NewOrders(source(t, fs, x), turn, 0.1, seconds-0.1, 24, 20)
	if err != nil || o == nil {
		t.Fatalf("no order spectrum: %v", err)
	}
	for m := 1.0; m <= 9; m++ {
		if o.Line(m) < 6 {
			t.Errorf("order %v stands out by %.1f, want more than 6", m, o.Line(m))
		}
		if o.Line(m+0.5) > 6 {
			t.Errorf("order %v stands out by %.1f although nothing is there", m+0.5, o.Line(m+0.5))
		}
	}
	if d, nats := o.Pattern(1, 3); d != 3 || nats < 3 {
		t.Errorf("every third line is strong, Pattern says %d with %.1f nats", d, nats)
	}
	if u := o.Between(1, 3); u < 1e-3 || u > 0.1 {
		t.Errorf("lines between hold %.4f of the pulse lines' power, want about 0.01", u)
	}
	if f := o.Filled(1); f < 0.9 {
		t.Errorf("share of places with lines %.2f, want all", f)
	}
}

// What lies more than 60 dB below the loudest line may be an image that a filter has
// let through, and speaks for no stack, however little noise there is.
func TestOrdersLeaveOutWhatIsFaint(t *testing.T) {
	const fs, seconds = 16000.0, 3.0
	r := rand.New(rand.NewPCG(8, 8))
	x := make([]float64, int(seconds*fs))
	for i := range x {
		x[i] = 1e-6 * r.NormFloat64()
	}
	line := func(order, db float64) {
		for i := range x {
			x[i] += math.Pow(10, db/20) * math.Cos(2*math.Pi*100*order*float64(i)/fs+order)
		}
	}
	for m, db := range map[float64]float64{1: 0, 2: -6, 9: -50, 11: -70, 13: -75, 15: -50, 17: -70} {
		line(m, db)
	}
	o, err := NewOrders(source(t, fs, x), func(t float64) float64 { return 100 * t }, 0.1, seconds-0.1, 48, 20)
	if err != nil || o == nil {
		t.Fatalf("no order spectrum: %v", err)
	}
	for _, m := range []float64{1, 2, 9, 15} {
		if o.Line(m) < 6 {
			t.Errorf("order %g stands out by %.1f, want more than 6", m, o.Line(m))
		}
	}
	for _, m := range []float64{11, 13, 17} {
		if o.Line(m) > 0 {
			t.Errorf("order %g, 70 dB below the loudest, stands out by %.1f", m, o.Line(m))
		}
	}
}

// A line of something else that stands beside the places of a stack for a third of the time
// makes a line at half an order, which is gone where those segments tell nothing of it; the
// stack's own lines stay, and a place that is hidden all the time tells nothing. Closed form:
// the sound is made here.
func TestOrdersBesideLeaveOutWhatPasses(t *testing.T) {
	const fs, seconds = 16000.0, 6.0
	x := hum(6, int(seconds*fs), fs, func(float64) float64 { return 100 }, []float64{1, 0.7, 0.8, 0.5})
	for i := range x {
		if at := float64(i) / fs; at > 4 {
			x[i] += math.Cos(2 * math.Pi * 250 * at)
		}
	}
	turn := func(t float64) float64 { return 100 * t }
	passes := func(from, to float64, hide func(lo, hi float64)) {
		hide(3.45, 3.55)
		if to > 4 {
			hide(2.45, 2.55)
		}
	}
	plain, err := NewOrders(source(t, fs, x), turn, 0.1, seconds-0.1, 48, 20)
	if err != nil || plain == nil {
		t.Fatalf("no order spectrum: %v", err)
	}
	o, err := NewOrdersBeside(passes, source(t, fs, x), turn, 0.1, seconds-0.1, 48, 20)
	if err != nil || o == nil {
		t.Fatalf("no order spectrum: %v", err)
	}
	if plain.Line(2.5) < 6 {
		t.Errorf("what passes stands out by %.1f, want more than 6", plain.Line(2.5))
	}
	if o.Line(2.5) > 4 || o.hides(o.bin(2.5)) {
		t.Errorf("it stands out by %.1f where it has no say, want noise", o.Line(2.5))
	}
	for m := 1.0; m <= 4; m++ {
		if math.Abs(o.Line(m)/plain.Line(m)-1) > 0.1 {
			t.Errorf("order %g stands out by %.1f, without what passes by %.1f", m, plain.Line(m), o.Line(m))
		}
	}
	if !o.hides(o.bin(3.5)) || o.Line(3.5) != 0 {
		t.Errorf("a place that is hidden all the time stands out by %.1f", o.Line(3.5))
	}
}

func TestPatternWantsMoreThanOneLoudLine(t *testing.T) {
	const fs, seconds = 16000.0, 4.0
	turn := func(t float64) float64 { return 80 * t }
	x := hum(5, int(seconds*fs), fs, func(float64) float64 { return 80 }, []float64{0.4, 0.35, 1.5, 0.3, 0.35, 0.25, 0.2})
	o, err := NewOrders(source(t, fs, x), turn, 0.1, seconds-0.1, 24, 20)
	if err != nil || o == nil {
		t.Fatalf("no order spectrum: %v", err)
	}
	if d, nats := o.Pattern(1, 3); d != 1 && nats > 2 {
		t.Errorf("one loud third harmonic is taken for a pattern of %d with %.1f nats", d, nats)
	}
}

// Three lines that fall by 20 and 28 dB, as those of a round hole heard close by:
// the second stands above the third only, which is no sign of unequal blades.
func TestPatternIsNotSeenInAStackThatFalls(t *testing.T) {
	for _, db := range [][]float64{{62, 42, 14}, {60, 50, 30}, {55, 30}} {
		v := make([]float64, len(db))
		for i, l := range db {
			v[i] = l * math.Ln10 / 10
		}
		if d, nats := PatternIn(v, 12); nats > 0 {
			t.Errorf("lines of %v dB are taken for a pattern of %d with %.1f nats", db, d, nats)
		}
	}
}

func TestSecondFindsTheOtherStack(t *testing.T) {
	const fs, seconds = 16000.0, 4.0
	turn := func(t float64) float64 { return 100 * t }
	n := int(seconds * fs)
	x := hum(6, n, fs, func(float64) float64 { return 100 }, []float64{1, 0.7, 0.5, 0.4})
	o, err := NewOrders(source(t, fs, x), turn, 0.1, seconds-0.1, 48, 20)
	if err != nil || o == nil {
		t.Fatalf("no order spectrum: %v", err)
	}
	line := evidence.New(0.75, 2e-3)
	if rate, nats := o.Second(1, 0.3, 5, line); nats > 9 {
		t.Errorf("one stack alone, and a second is found at %.3f with %.1f nats", rate, nats)
	}
	for i, v := range hum(7, n, fs, func(float64) float64 { return 137 }, []float64{0.6, 0.5, 0.4}) {
		x[i] += v
	}
	if o, err = NewOrders(source(t, fs, x), turn, 0.1, seconds-0.1, 48, 20); err != nil || o == nil {
		t.Fatalf("no order spectrum: %v", err)
	}
	if rate, nats := o.Second(1, 0.3, 5, line); math.Abs(rate-1.37) > 0.01 || nats < 9 {
		t.Errorf("the second stack is found at %.3f with %.1f nats, want 1.37", rate, nats)
	}
	if a, b := o.Power(1, 1.37), o.Power(1.37, 1); a < 2*b || b <= 0 {
		t.Errorf("powers of the stacks %.3g and %.3g, want some 2.5 to 1", a, b)
	}
}

func TestLinesFarAboveThePulsesAreNoUnequalBlades(t *testing.T) {
	o := &Orders{Per: 48, Top: 10, Z: make([]float64, 500)}
	for _, m := range []int{1, 2, 3} {
		o.Z[m*48] = 40
	}
	sure, maybe := evidence.New(0.75, 2e-3), evidence.New(0.15, 2e-3)
	plain := o.Evidence(0.25, 4, sure, maybe)
	o.Z[48+24] = 30 // weaker than its neighbours
	if e := o.Evidence(0.25, 4, sure, maybe); e <= plain {
		t.Errorf("a weak line between adds %.2f nats, want more than 0", e-plain)
	}
	o.Z[48+24] = 4000
	if e := o.Evidence(0.25, 4, sure, maybe); e > plain+0.5 {
		t.Errorf("a line a hundred times the pulses' adds %.2f nats, want hardly any", e-plain)
	}
}

func TestFewCandidatesInNoise(t *testing.T) {
	src := source(t, 8000, hum(4, 32000, 8000, func(float64) float64 { return 1 }, nil))
	opt := FrameOptions{Lo: 20, Hi: 2000, Hop: 0.02, Harmonics: 12, Keep: 24}
	count := func(least float64) (n int) {
		opt.Least = least
		fr, err := Analyse(src, opt)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range fr.Moments {
			for i, s := range m.States {
				if s.Evidence < least || i > 0 && s.Evidence > m.States[i-1].Evidence {
					t.Fatalf("candidate %d of evidence %g, %g at least, the best first", i, s.Evidence, least)
				}
			}
			n += len(m.States)
		}
		return n
	}
	if all, few := count(0), count(0.54); few > all/10 {
		t.Errorf("%d of %d candidates of noise are kept, want one in ten at most", few, all)
	}
}
