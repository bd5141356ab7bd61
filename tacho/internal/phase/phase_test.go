package phase

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"rotorhum/tacho/internal/sound"
)

// A steady rate seen by n phases of variance s, T apart: the least squares
// slope has the variance 12 s / (T^2 n (n^2 - 1)).
func TestSteadyMotionHasTheVarianceOfAStraightLine(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 3))
	const n, step, s = 50, 0.02, 0.04
	sum, stated := 0.0, 0.0
	const draws = 300
	for range draws {
		p := make([]Point, n)
		for i := range p {
			at := float64(i) * step
			p[i] = Point{T: at, Phi: 1 + 300*at + math.Sqrt(s)*r.NormFloat64(), Var: s}
		}
		m, _ := Run(p, Prior{Start: Smooth{Phi: 0.5, Omega: 290}, SD: [3]float64{30, 100, 1e-9}, Q: []float64{0}})
		e := m[n-1].Omega - 300
		sum += e * e
		stated = m[n-1].OmegaVar
	}
	want := 12 * s / (step * step * n * (n*n - 1))
	if math.Abs(stated/want-1) > 0.01 {
		t.Errorf("stated variance %.5f, the formula gives %.5f", stated, want)
	}
	if got := sum / draws; math.Abs(got/want-1) > 0.33 { // four sd of chi-squared
		t.Errorf("variance of the errors %.5f, the formula gives %.5f", got, want)
	}
}

// motion returns noisy phases of a rate that rises, bends at 1 s and falls.
func motion(r *rand.Rand, s float64) (p []Point, omega func(t float64) float64) {
	omega = func(t float64) float64 {
		if t < 1 {
			return 300 + 200*t
		}
		return 500 - 60*(t-1)
	}
	phi := 0.0
	const step = 0.02
	for i := range 101 {
		at := float64(i) * step
		p = append(p, Point{T: at, Phi: phi + math.Sqrt(s)*r.NormFloat64(), Var: s})
		phi += step * (omega(at) + omega(at+step)) / 2
	}
	return p, omega
}

// fit smooths the points with the intensities that they show.
func fit(t *testing.T, p []Point, prior Prior) (m []Smooth, q []float64) {
	t.Helper()
	one, err := Fit(p, prior, 0.1, 1e8, goOn)
	if err == nil {
		prior.Q, _, err = FitVarying(p, prior, 0.1, 1e8, one, goOn)
	}
	if err != nil {
		t.Fatal(err)
	}
	m, _ = Run(p, prior)
	return m, prior.Q
}

func TestFitAdaptsToABendAndStatesItsErrors(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 3))
	in, all := 0, 0
	worst := 0.0
	for range 60 {
		p, omega := motion(r, 0.01)
		prior := Prior{Start: Smooth{Phi: p[0].Phi, Omega: 300}, SD: [3]float64{30, 100, 1200}}
		m, _ := fit(t, p, prior)
		for i, s := range m {
			e := s.Omega - omega(p[i].T)
			worst = math.Max(worst, math.Abs(e)/omega(p[i].T))
			all++
			if math.Abs(e) < 1.96*math.Sqrt(s.OmegaVar) {
				in++
			}
		}
	}
	// 60 courses of some 15 independent stretches each: one per cent is one sd
	if c := float64(in) / float64(all); c < 0.90 || c > 0.985 {
		t.Errorf("%.1f %% of the 95 %% intervals hold the truth", 100*c)
	}
	if worst > 0.05 {
		t.Errorf("worst error %.1f %% of the rate, want at most 5", 100*worst)
	}
}

// Where a rate rises evenly for long, the intensity fitted must be so low there
// that the rate is known as a straight line fitted to the whole rise would know
// it; at the bends it must be high enough to follow.
func TestIntensityIsHighAtBendsOnly(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 3))
	const step, s, seconds = 0.02, 0.01, 9.0
	omega := func(t float64) float64 { return 300 + 150*math.Max(0, math.Min(t, 7)-2) }
	better, in, all := 0, 0, 0
	const draws = 20
	for range draws {
		var p []Point
		phi := 0.0
		for at := 0.0; at < seconds; at += step {
			p = append(p, Point{T: at, Phi: phi + math.Sqrt(s)*r.NormFloat64(), Var: s})
			phi += step * omega(at+step/2)
		}
		prior := Prior{Start: Smooth{Phi: p[0].Phi, Omega: 300}, SD: [3]float64{30, 100, 1200}}
		m, q := fit(t, p, prior)
		mid := len(p) / 2 // 4.5 s, amid a rise of 5 s
		n := 5 / step
		line := 12 * s / (step * step * n * n * n) // variance of the slope of a phase
		if m[mid].OmegaVar < 4*line {
			better++
		}
		for i, e := range m {
			all++
			if math.Abs(e.Omega-omega(p[i].T)) < 1.96*math.Sqrt(e.OmegaVar) {
				in++
			}
		}
		for _, bend := range []float64{2, 7} {
			top := 0.0
			for i := range p {
				if math.Abs(p[i].T-bend) < 0.3 {
					top = math.Max(top, q[i])
				}
			}
			if top < 1e4*q[mid] {
				t.Errorf("intensity %.2g at the bend at %g s, %.2g amid the rise", top, bend, q[mid])
			}
		}
	}
	if better < draws*8/10 {
		t.Errorf("in %d of %d courses the rate amid an even rise is known to twice what a straight line over it knows", better, draws)
	}
	if c := float64(in) / float64(all); c < 0.88 {
		t.Errorf("%.1f %% of the 95 %% intervals hold the truth", 100*c)
	}
}

// goOn never stops a fit.
func goOn() error { return nil }

func TestDrawsSpreadAsTheVariancesSay(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	p, _ := motion(r, 0.01)
	p[40].Var = math.Inf(1) // one that was not measured
	p[50].Rate, p[50].RateVar = 301, 4
	for _, q := range []float64{1e-12, 1e-3, 10, 1e5} {
		prior := Prior{Start: Smooth{Phi: p[0].Phi, Omega: 300}, SD: [3]float64{30, 100, 1200}, Q: []float64{q}}
		m, _ := Run(p, prior)
		for _, within := range [][2]int{{0, len(p)}, {25, 60}, {90, len(p)}} {
			from, end := within[0], within[1]
			var draws [][]Smooth
			for d := range Draws(p, prior, from, end, 400, rand.New(rand.NewPCG(4, 4))) {
				draws = append(draws, slices.Clone(d))
			}
			for _, i := range []int{from, (from + end) / 2, end - 1} {
				mean, sq := 0.0, 0.0
				for _, d := range draws {
					mean += (d[i-from].Omega - m[i].Omega) / 400
				}
				for _, d := range draws {
					e := d[i-from].Omega - m[i].Omega - mean
					sq += e * e / 399
				}
				// 400 draws know a variance to 7 %, a mean to 5 % of the spread
				if math.Abs(sq/m[i].OmegaVar-1) > 0.3 || math.Abs(mean) > 0.2*math.Sqrt(sq) {
					t.Errorf("intensity %g, points %d to %d: at %d the draws lie %.3g ± %.3g off the smoothed rate, known to %.3g",
						q, from, end, i, mean, math.Sqrt(sq), math.Sqrt(m[i].OmegaVar))
				}
			}
		}
	}
}

func TestFollowSharpensARoughCourse(t *testing.T) {
	const fs, seconds = 8000.0, 3.0
	rate := func(t float64) float64 { return 80 + 12*math.Sin(1.5*t) }
	r := rand.New(rand.NewPCG(5, 3))
	x := make([]float64, int(fs*seconds))
	phi := 0.0
	for i := range x {
		phi += 2 * math.Pi * rate(float64(i)/fs) / fs
		x[i] = 0.5*math.Cos(phi) + 0.4*math.Cos(2*phi+1) + 0.3*math.Cos(3*phi+2) + r.NormFloat64()*0.5
	}
	src, err := sound.New(func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }, []int{0}, len(x), fs, fs)
	if err != nil {
		t.Fatal(err)
	}
	var c Course
	for at := 0.05; at < seconds-0.05; at += 0.02 {
		c.T = append(c.T, at)
		c.Rate = append(c.Rate, rate(at)*(1+0.003*r.NormFloat64()))
	}
	f, err := Follow(src, c, 0.004, Options{Harmonics: 12, Memory: 0.35})
	if err != nil || f == nil {
		t.Fatalf("Follow: %v", err)
	}
	sq, in := 0.0, 0
	for i, m := range f.Motion {
		truth := 2 * math.Pi * rate(f.Blocks[i].T)
		e := m.Omega - truth
		sq += e * e / truth / truth / float64(len(f.Motion))
		if math.Abs(e) < 1.96*math.Sqrt(m.OmegaVar) {
			in++
		}
	}
	if rms := math.Sqrt(sq); rms > 0.0006 {
		t.Errorf("rms error %.5f of the rate after a course with 0.003, want at most 0.0006", rms)
	}
	if n := len(f.Motion); in < n*8/10 {
		t.Errorf("%d of %d intervals hold the truth", in, n)
	}
	if f.Coherence < 0.8 {
		t.Errorf("coherence %.2f of a clean stack, want near 1", f.Coherence)
	}
	if f.Like < f.LikeSteady {
		t.Errorf("a swinging rate is said to be steady: %.1f against %.1f", f.Like, f.LikeSteady)
	}
}

func TestTooShortACourseGivesNothing(t *testing.T) {
	x := make([]float64, 8000)
	src, _ := sound.New(func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }, []int{0}, len(x), 8000, 8000)
	f, err := Follow(src, Course{T: []float64{0.1, 0.15}, Rate: []float64{50, 50}}, 0.003, Options{Harmonics: 5, Memory: 0.3})
	if f != nil || err != nil {
		t.Errorf("50 ms of 50 Hz: %v, %v, want nothing and no error", f, err)
	}
}

// A recorder that drops out writes zeros: there is neither a line nor noise, and
// what rounding leaves of the sums is no measurement.
func TestDigitalSilenceIsNoMeasurement(t *testing.T) {
	const fs, seconds, off = 8000.0, 3.0, 1.6
	r := rand.New(rand.NewPCG(6, 3))
	x := make([]float64, int(fs*seconds))
	for i := range int(off * fs) {
		at := float64(i) / fs
		x[i] = 0.5*math.Cos(2*math.Pi*100*at) + 0.3*math.Cos(2*math.Pi*200*at+1) + 0.05*r.NormFloat64()
	}
	src, err := sound.New(func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }, []int{0}, len(x), fs, fs)
	if err != nil {
		t.Fatal(err)
	}
	var c Course
	for at := 0.1; at < seconds-0.1; at += 0.02 {
		c.T, c.Rate = append(c.T, at), append(c.Rate, 100)
	}
	f, err := Follow(src, c, 0.002, Options{Harmonics: 12, Memory: 0.35})
	if err != nil || f == nil {
		t.Fatalf("Follow: %v, %v", f, err)
	}
	for i, m := range f.Motion {
		if !(m.OmegaVar > 0) {
			t.Fatalf("the rate at %.2f s has a variance of %v", f.Blocks[i].T, m.OmegaVar)
		}
		if e := m.Omega/(2*math.Pi) - 100; f.Blocks[i].T < off-0.3 && math.Abs(e) > 0.1 {
			t.Errorf("the rate at %.2f s is %.2f Hz off", f.Blocks[i].T, e)
		}
	}
}
