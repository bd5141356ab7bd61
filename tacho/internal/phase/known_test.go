package phase

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"rotorhum/tacho/internal/sound"
)

// turning is a sound of five lines along a rate in noise.
type turning struct {
	rate  func(t float64) float64
	lines []complex128
	src   *sound.Source
	truth Course
}

// newTurning makes seconds of it, the power of all lines over the noise variance
// being snr dB.
func newTurning(t *testing.T, r *rand.Rand, seconds, snr float64, rate func(t float64) float64) *turning {
	t.Helper()
	const fs = 8000
	u := &turning{rate: rate}
	power := 0.0
	for m := 1; m <= 5; m++ {
		a, at := 0.1/math.Sqrt(float64(m)), 2*math.Pi*r.Float64()
		u.lines = append(u.lines, complex(a*math.Cos(at), a*math.Sin(at)))
		power += a * a / 2
	}
	sd := math.Sqrt(power / math.Pow(10, snr/10))
	x := make([]float64, int(seconds*fs))
	phi := 0.0
	for i := range x {
		for m, a := range u.lines {
			s, c := math.Sincos(float64(m+1) * phi)
			x[i] += real(a)*c - imag(a)*s
		}
		x[i] += sd * r.NormFloat64()
		phi += 2 * math.Pi * rate((float64(i)+0.5)/fs) / fs
	}
	for at := 0.0; at <= seconds; at += 0.005 {
		u.truth.T, u.truth.Rate = append(u.truth.T, at), append(u.truth.Rate, rate(at))
	}
	var err error
	u.src, err = sound.New(func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }, []int{0}, len(x), fs, fs)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

// information returns what a sample tells of the phase of the first line (the Fisher
// information), the power of all lines over the noise variance being snr dB.
func (u *turning) information(snr float64) float64 {
	power, info := 0.0, 0.0
	for m, a := range u.lines {
		p := (real(a)*real(a) + imag(a)*imag(a)) / 2
		power += p
		info += float64((m+1)*(m+1)) * p
	}
	return info * math.Pow(10, snr/10) / power
}

// knowing follows the sound as one who knows the amplitude and the phase of every
// line: what is left is the common phase, and how it moves.
func (u *turning) knowing(t *testing.T) *Result {
	t.Helper()
	f := &follower{src: u.src, opt: Options{Harmonics: len(u.lines)}, given: u.truth, now: u.truth, rough: refined}
	if heard, err := f.hear(true); err != nil || !heard {
		t.Fatalf("not heard: %v", err)
	}
	for i, b := range f.l.blocks {
		grad, info := 0.0, 0.0
		for m, a := range u.lines {
			order, s := float64(m+1), f.l.noise[0][m][i]
			a *= complex(b.Sum/2, 0)
			y := f.l.lines[0][m][i]
			grad += 2 * order * (real(a)*imag(y) - imag(a)*real(y)) / s
			info += 2 * order * order * (real(a)*real(a) + imag(a)*imag(a)) / s
		}
		w := 2 * math.Pi * u.truth.At(b.T)
		sd := givenError * w
		f.r.Points = append(f.r.Points, Point{T: b.T, Phi: b.Phi + grad/info, Var: 4.0 / 3 / info, Rate: w, RateVar: sd * sd * givenSeconds / (b.Length / 2)})
	}
	n := len(f.l.blocks)
	f.l.factors, f.l.widened, f.l.apart = make([][len(spans)]float64, n), make([]float64, n), make([]float64, n) // there is no disagreement
	for i := range n {
		f.l.widened[i] = 1
		for k := range spans {
			f.l.factors[i][k] = 1
		}
	}
	if err := f.smooth(false, true); err != nil {
		t.Fatal(err)
	}
	return f.r
}

// Against an estimator that knows amplitudes and phases of all lines, looks along the
// true course and smooths alike, the stated uncertainty must not be more than 1.3 times
// as large in nine blocks of ten, nor the mean error: that is what amplitudes that are
// found along the way may cost.
func TestUnknownAmplitudesCostLittle(t *testing.T) {
	motions := []struct {
		name string
		rate func(t float64) float64
	}{
		{"steady", func(t float64) float64 { return 150 }},
		{"a ramp of 30 %/s", func(t float64) float64 { return 150 * (1 + 0.3*math.Max(0, math.Min(t, 3)-1)) }},
		{"a push and a coast-down", func(t float64) float64 {
			return 100 + 120*(1-math.Exp(-4*math.Max(0, t-0.8)))*math.Exp(-0.3*math.Max(0, t-0.8))
		}},
		{"a wow of 1 Hz", func(t float64) float64 { return 150 * (1 + 0.03*math.Sin(2*math.Pi*t)) }},
		{"a flutter of 4 Hz", func(t float64) float64 { return 150 * (1 + 0.01*math.Sin(8*math.Pi*t)) }},
	}
	for _, mo := range motions {
		for _, snr := range []float64{15, 0} {
			r := rand.New(rand.NewPCG(uint64(100+snr), 12))
			var width []float64
			var mine, theirs float64
			const draws = 20
			for range draws {
				u := newTurning(t, r, 4, snr, mo.rate)
				got, err := Follow(u.src, u.truth, 0.003, Options{Harmonics: 12, Memory: 0.35})
				if err != nil || got == nil {
					t.Fatalf("%s, %g dB: not followed: %v", mo.name, snr, err)
				}
				best := u.knowing(t)
				for i, s := range got.Motion {
					at := got.Blocks[i].T
					j := min(len(best.Motion)-1, nearest(best.Blocks, at))
					o := best.Motion[j]
					width = append(width, math.Sqrt(s.OmegaVar/o.OmegaVar))
					e, eo := s.Omega-2*math.Pi*mo.rate(at), o.Omega-2*math.Pi*mo.rate(best.Blocks[j].T)
					mine += math.Abs(e)
					theirs += math.Abs(eo)
				}
			}
			slices.Sort(width)
			most := width[len(width)*9/10]
			if most > 1.3 || mine > 1.3*theirs {
				t.Errorf("%s, %g dB: stated up to %.2f and wrong by %.2f times as much as one who knows the amplitudes; want at most 1.3", mo.name, snr, most, mine/theirs)
			}
		}
	}
}

// nearest returns the block nearest to a time.
func nearest(b []Block, t float64) int {
	best := 0
	for i := range b {
		if math.Abs(b[i].T-t) < math.Abs(b[best].T-t) {
			best = i
		}
	}
	return best
}
