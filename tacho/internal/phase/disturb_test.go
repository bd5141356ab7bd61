package phase

import (
	"math"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/sound"
)

// disturbed demodulates a stack of five lines of 100 Hz, each of amplitude 0.1 times
// gain, and what is added to it in white noise, and returns the lines before and
// after their noise was raised where they are disturbed.
func disturbed(t *testing.T, gain, added func(at float64) float64) (l *locked) {
	t.Helper()
	const fs, n, rate, lines = 8000.0, 32000, 100.0, 5
	r := rand.New(rand.NewPCG(3, 4))
	x := make([]float64, n)
	for i := range x {
		at := float64(i) / fs
		for m := 1.0; m <= lines; m++ {
			x[i] += 0.1 * gain(at) * math.Cos(2*math.Pi*m*rate*at+m*m)
		}
		x[i] += added(at) + 0.02*r.NormFloat64()
	}
	src, err := sound.New(func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }, []int{0}, n, fs, fs)
	if err != nil {
		t.Fatal(err)
	}
	blocks, err := Demodulate(src, Course{T: []float64{0.001, 3.999}, Rate: []float64{rate, rate}}, lines, blockCycles, shortestBlock)
	if err != nil {
		t.Fatal(err)
	}
	l = newLocked(src, blocks, lines)
	if err := l.measureNoise(lines); err != nil {
		t.Fatal(err)
	}
	l.disturb()
	return l
}

// raised returns the mean factor by which the noise of harmonic m was raised.
func (l *locked) raised(m int) float64 {
	sum := 0.0
	for i, v := range l.noise[0][m-1] {
		sum += v / l.between[0][m-1][i] / float64(len(l.blocks))
	}
	return sum
}

// Lines in white noise have the noise that lies between them, whatever their gain.
func TestDisturbLeavesNoiseAsItIs(t *testing.T) {
	none := func(float64) float64 { return 0 }
	for name, gain := range map[string]func(at float64) float64{
		"one gain": func(float64) float64 { return 1 },
		"swells":   func(at float64) float64 { return 1 + 0.5*math.Sin(2*math.Pi*2*at) },
	} {
		l := disturbed(t, gain, none)
		for m := 1; m <= 5; m++ {
			if f := l.raised(m); f > 1.05 {
				t.Errorf("%s: the noise of line %d is taken to be %.2f times what it is", name, m, f)
			}
		}
	}
}

// A tone of amplitude b, less than that of the line it beats with, adds (b Sum/2)^2
// to its noise, in closed form, as half of its power lies along the line; it counts
// half, as the rest may be chance, and a little less for the belief that all is well.
// The other lines stay as they are.
func TestDisturbRaisesTheNoiseOfTheLineThatIsDisturbed(t *testing.T) {
	const b, from, to = 0.05, 1.8, 2.2
	l := disturbed(t, func(float64) float64 { return 1 }, func(at float64) float64 {
		if at < from || at > to {
			return 0
		}
		return b * math.Cos(2*math.Pi*209*at)
	})
	reach := 2 * disturbedReach * l.blocks[0].Length / 2
	for i, block := range l.blocks {
		got, own := l.noise[0][1][i], math.Pow(b*block.Sum/2, 2)
		switch {
		case math.Abs(block.T-(from+to)/2) < 0.02:
			if got < 0.25*own || got > 0.5*own {
				t.Errorf("at %.2f s the noise is %.3g, the tone adds %.3g", block.T, got, own)
			}
		case block.T < from-reach || block.T > to+reach:
			if got > 1.5*l.between[0][1][i] {
				t.Errorf("at %.2f s, without a tone, the noise is raised from %.3g to %.3g", block.T, l.between[0][1][i], got)
			}
		}
	}
	for _, m := range []int{1, 3, 4, 5} {
		if f := l.raised(m); f > 1.1 {
			t.Errorf("the noise of line %d, which nothing disturbs, is raised %.2f times", m, f)
		}
	}
}

// Where a tone three times as strong passes one of five lines for a moment they keep less
// of their power in phase, but several times nearer to all of what counts where lines are
// disturbed.
func TestClearLeavesOutWhatPassesALine(t *testing.T) {
	l := disturbed(t, func(float64) float64 { return 1 }, func(at float64) float64 {
		return 0.3 * math.Exp(-math.Pow((at-2)/0.1, 2)) * math.Cos(2*math.Pi*206*at)
	})
	for i := range l.memory {
		l.memory[i], l.used[i] = 3, 5
	}
	if _, err := l.measure(); err != nil {
		t.Fatal(err)
	}
	kept, _ := l.coherence(0, len(l.blocks))
	clear := l.clear.kept / l.clear.all
	if kept > 0.995 || math.Abs(1-clear) > (1-kept)/4 {
		t.Errorf("the lines keep %.3f, and %.3f where nothing passes", kept, clear)
	}
}
