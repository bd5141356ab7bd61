package phase

import (
	"math"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/sound"
)

// A course in pieces is the course in one go, its phases too.
func TestPiecesAreTheWhole(t *testing.T) {
	const fs, seconds = 4000.0, 200.0
	r := rand.New(rand.NewPCG(11, 1))
	x := make([]float64, int(fs*seconds))
	rate := func(t float64) float64 { return 60 + 15*math.Sin(2*math.Pi*t/40) }
	phi := 0.0
	for i := range x {
		phi += 2 * math.Pi * rate(float64(i)/fs) / fs
		for m := 1.0; m <= 4; m++ {
			x[i] += math.Cos(m * phi)
		}
		x[i] += r.NormFloat64()
	}
	src, err := sound.New(func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }, []int{0}, len(x), fs, fs)
	if err != nil {
		t.Fatal(err)
	}
	var c Course
	for at := 0.5; at < seconds-0.5; at += 0.02 {
		c.T, c.Rate = append(c.T, at), append(c.Rate, rate(at)*(1+0.001*r.NormFloat64()))
	}
	last := 0.0
	opt := Options{Harmonics: 8, Memory: 0.35, Progress: func(done float64) {
		if done <= last || done > 1+1e-9 {
			t.Errorf("progress %v after %v", done, last)
		}
		last = done
	}}
	pieces, err := followPieces(src, c, 0.003, opt)
	if err != nil || pieces == nil {
		t.Fatalf("no course: %v", err)
	}
	opt.Progress = nil
	whole, err := follow(src, c, 0.003, opt)
	if err != nil || whole == nil {
		t.Fatalf("no course: %v", err)
	}
	if math.Abs(last-1) > 1e-9 {
		t.Errorf("progress ends at %v, want 1", last)
	}
	n := len(pieces.Blocks)
	if math.Abs(float64(n-len(whole.Blocks))) > 3 || len(pieces.Motion) != n || len(pieces.Points) != n || len(pieces.SNR) != n || len(pieces.prior.Q) != n {
		t.Fatalf("%d blocks in pieces (%d, %d, %d, %d), %d in one go", n, len(pieces.Motion), len(pieces.Points), len(pieces.SNR), len(pieces.prior.Q), len(whole.Blocks))
	}
	shift, _ := whole.phase(pieces.Blocks[n/2].T)
	shift -= pieces.Motion[n/2].Phi
	for i, b := range pieces.Blocks {
		phi, ok := whole.phase(b.T)
		if !ok {
			continue
		}
		m := pieces.Motion[i]
		if d := phi - shift - m.Phi; math.Abs(d) > 0.2 {
			t.Fatalf("at %.2f s the phase is off by %.3f rad", b.T, d)
		}
		if d := m.Omega/(2*math.Pi) - rate(b.T); math.Abs(d) > 5*math.Sqrt(m.OmegaVar)/(2*math.Pi)+0.01 {
			t.Fatalf("at %.2f s the rate is off by %.4f Hz, with a standard uncertainty of %.4f", b.T, d, math.Sqrt(m.OmegaVar)/(2*math.Pi))
		}
		for h := range 4 {
			if a := math.Sqrt(pieces.Strength(i, h).Amp2); i > 20 && i < n-20 && math.Abs(a-1) > 0.25 {
				t.Fatalf("at %.2f s line %d has an amplitude of %.2f, want 1", b.T, h+1, a)
			}
		}
	}
	if a, b := pieces.Like-pieces.LikeSteady, whole.Like-whole.LikeSteady; !(a > 1000 && b > 1000) {
		t.Errorf("a swinging rate is likelier than a steady one by %.0f nats, in one go by %.0f: want more than 1000", a, b)
	}
}
