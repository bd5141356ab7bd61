package phase

import (
	"math"
	"math/rand/v2"
	"testing"
)

// fluttering follows a speed that swings, from a course that knows nothing of it.
func fluttering(t *testing.T, r *rand.Rand, rate, at, depth float64, pulses int) (f *Result, rms, held float64) {
	t.Helper()
	return swinging(t, r, rate, depth, pulses, func(t float64) float64 { return rate * (1 + depth*math.Sin(2*math.Pi*at*t+0.4)) })
}

// swinging is fluttering for any swing.
func swinging(t *testing.T, r *rand.Rand, rate, depth float64, pulses int, truth func(t float64) float64) (f *Result, rms, held float64) {
	t.Helper()
	const seconds = 14.0
	u := newTurning(t, r, seconds, 10, truth)
	rough := Course{T: []float64{0, seconds}, Rate: []float64{rate, rate}}
	f, err := Follow(u.src, rough, 0.01+depth, Options{Harmonics: 12, Memory: 0.35, Pulses: pulses})
	if err != nil || f == nil {
		t.Fatalf("%g/s that swings by %g: not followed: %v", rate, depth, err)
	}
	for i, m := range f.Motion {
		e := m.Omega/(2*math.Pi*truth(f.Blocks[i].T)) - 1
		rms += e * e
		if math.Abs(e) < 1.96*math.Sqrt(m.OmegaVar)/m.Omega {
			held++
		}
	}
	n := float64(len(f.Motion))
	return f, math.Sqrt(rms / n), held / n
}

// Told that there are waves, one follows a fluttering speed to a few per cent of its swing,
// be it small or large, faster than the blocks can show it or slower. Inertia alone misses a
// swing of 0.2 per cent whole, and a tenth or more of the others.
func TestFlutter(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	var all, count float64
	for _, c := range []struct{ rate, at, depth float64 }{{110, 6, 0.002}, {60, 4.6, 0.0245}, {150, 7.6, 0.017}, {40, 6.5, 0.02}, {40, 6.3, 0.004}, {300, 3, 0.05}} {
		for range 4 {
			f, rms, held := fluttering(t, r, c.rate, c.at, c.depth, 0)
			all, count = all+held, count+1
			if !(rms < 0.05*c.depth) {
				t.Errorf("%v: errors of %.2g of the swing (rms), want 0.05", c, rms/c.depth)
			}
			for i := 1; i < len(f.moments); i++ {
				if h := f.moments[i].T - f.moments[i-1].T; !(h > 0 && h < 1.0/(perPeriod-1)/c.at) {
					t.Fatalf("%v: the motion is told %g s apart", c, h)
				}
			}
		}
	}
	if all /= count; all < 0.88 {
		t.Errorf("%.0f %% of the intervals hold, want 95", 100*all)
	}
}

// What swings with the turn is the blades', which are not alike, and no flutter, whether
// their number is told or not.
func TestWhatSwingsWithTheTurnIsNoFlutter(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for _, pulses := range []int{0, 7} {
		if f, _, _ := fluttering(t, r, 50, 50.0/7, 0.01, pulses); f.flutter != nil {
			t.Errorf("%d pulses: a turn is taken for a flutter at %v", pulses, f.flutter.waves)
		}
		if f, _, _ := fluttering(t, r, 50, 50/7.4, 0.01, pulses); f.flutter == nil {
			t.Errorf("%d pulses: no flutter, want one of %.1f Hz", pulses, 50/7.4)
		}
	}
}

// A speed that rises faster than it falls is no sum of few waves. Taken for one its
// A speed that rises faster than it falls is no sum of few waves: as inertia alone follows it
// four in five of its intervals hold, and fewer than three if it is taken for one.
func TestNoFewWaves(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	all := 0.0
	for _, at := range []float64{3.1, 4.6, 5.3, 6.2} {
		const rate, depth, rises = 90.0, 0.01, 0.3
		_, _, held := swinging(t, r, rate, depth, 0, func(t float64) float64 {
			u := math.Mod(at*t, 1)
			return rate * (1 + depth*(2*math.Min(u/rises, (1-u)/(1-rises))-1))
		})
		all += held / 4
	}
	t.Logf("%.0f %% of the intervals hold", 100*all)
	if all < 0.7 {
		t.Errorf("%.0f %% of the intervals hold, want 70 at least", 100*all)
	}
}

// The waves of a flutter come and go between the blocks: what is told of the motion there,
// and beyond the last block, has them too.
func TestFlutterBetweenTheBlocks(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	const rate, at, depth = 40.0, 6.5, 0.02
	f, _, _ := fluttering(t, r, rate, at, depth, 0)
	sum, n := 0.0, 0.0
	for t := 0.005; t < 13.99; t += 0.01 {
		a, b := f.Around(t)
		h := b.T - a.T
		omega := cubic((t-a.T)/h, a.Omega, b.Omega, h*a.Alpha, h*b.Alpha)
		e := omega/(2*math.Pi*rate*(1+depth*math.Sin(2*math.Pi*at*t+0.4))) - 1
		sum += e * e
		n++
	}
	if rms := math.Sqrt(sum / n); !(rms < 0.05*depth) {
		t.Errorf("errors of %.2g of the swing (rms), want 0.05", rms/depth)
	}
}
