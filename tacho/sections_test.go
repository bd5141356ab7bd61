package tacho

import (
	"math"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// A recording searched in sections shows the same stretches as one that is searched
// whole: those that run over a seam in one piece, those near one once.
func TestSectionsAreTheWhole(t *testing.T) {
	const fs, seconds = 16000.0, 32.0
	// two stretches over the seams at 8 and 16 s, one that begins and one that ends
	// next to the one at 24 s
	heard := [][2]float64{{1, 10}, {11, 17.5}, {18.5, 23.6}, {24.4, 31}}
	rate := func(t float64) float64 { return 120 + 40*math.Sin(0.9*t) }
	r := rand.New(rand.NewPCG(11, 12))
	x := make([]float64, int(seconds*fs))
	turns := 0.0
	for i := range x {
		at := float64(i) / fs
		turns += rate(at) / fs
		x[i] = 0.03 * r.NormFloat64()
		for _, h := range heard {
			if fade := math.Min(at-h[0], h[1]-at); fade > 0 {
				for m := 1.0; m <= 6; m++ {
					x[i] += math.Min(1, fade/0.05) * 0.1 / m * math.Cos(2*math.Pi*m*turns)
				}
			}
		}
	}
	src, opt := opened(t, Options{}, fs, x)
	whole, _, err := followCourses(src, opt)
	if err != nil {
		t.Fatal(err)
	}
	last := 0.0
	opt.Progress = func(done float64) {
		if done < last-1e-9 || done > 1 {
			t.Errorf("progress %g after %g", done, last)
		}
		last = done
	}
	parts, _, err := sections{whole: 10, each: 8, seam: 4}.follow(src, opt)
	if err != nil {
		t.Fatal(err)
	}
	if len(whole) != len(heard) || len(parts) != len(heard) {
		t.Fatalf("%d stretches as a whole, %d in sections, want %d", len(whole), len(parts), len(heard))
	}
	for i, s := range parts {
		a, b := whole[i].times()
		c, d := s.times()
		if math.Abs(a-c) > 0.1 || math.Abs(b-d) > 0.1 {
			t.Errorf("stretch %d lasts from %.2f to %.2f s, as a whole from %.2f to %.2f s", i, c, d, a, b)
		}
		if share := s.evidence / whole[i].evidence; math.Abs(share-1) > 0.1 {
			t.Errorf("stretch %d has %.2f of the evidence that the whole has", i, share)
		}
		wrong, n := 0, 0
		for at := c + 0.3; at < d-0.3; at += 0.05 {
			f, u, _ := s.at(at)
			if math.Abs(f-rate(at)) > 3*u+1e-3*f {
				wrong++
			}
			n++
			// its phase, too, runs through the seams
			if turn := s.turn(at+0.05) - s.turn(at); math.Abs(turn-0.05*rate(at+0.025)) > 0.05 {
				t.Errorf("stretch %d turns by %.3f from %.2f s on, want %.3f", i, turn, at, 0.05*rate(at+0.025))
			}
		}
		if wrong > n/50 {
			t.Errorf("stretch %d is off at %d of %d moments", i, wrong, n)
		}
	}
}

// A rotor that is softer than two others, one after the other, is moved to its place
// in the recording once.
func TestWhatIsSofterThanTwoIsMovedOnce(t *testing.T) {
	const fs, seconds = 8000.0, 6.0
	x := make([]float64, int(seconds*fs))
	for i := range x {
		x[i] = math.Sin(2 * math.Pi * 100 * float64(i) / fs)
	}
	src, err := sound.New(func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }, []int{0}, len(x), fs, fs)
	if err != nil {
		t.Fatal(err)
	}
	over := func(from, to float64) *stretch {
		s, err := refineCourse(src, phase.Course{T: []float64{from, to}, Rate: []float64{100, 100}}, 0.002, Options{})
		if err != nil || s == nil {
			t.Fatalf("%g to %g s: %v, %v", from, to, s, err)
		}
		return s
	}
	first, second, soft := over(0.5, 2.5), over(3, 5.5), over(0.5, 5.5)
	first.softer, second.softer = []*stretch{soft}, []*stretch{soft}
	all := []*stretch{first, second, soft}
	var begin []float64
	for _, s := range all {
		begin = append(begin, s.fit.Blocks[0].T)
	}
	compactAt([]*stretch{first, second}, 300)
	for i, s := range all {
		if got, want := s.fit.Blocks[0].T, begin[i]+300; math.Abs(got-want) > 1e-9 {
			t.Errorf("stretch %d begins at %g s, want %g s", i, got, want)
		}
	}
}
