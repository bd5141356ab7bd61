package tacho

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// stack adds lines at the multiples of a pitch to x, of the given power. They keep their
// strengths and phases, or, with vowel above 0, change to others within so many seconds
// again and again, as the vowels of speech do.
func stack(r *rand.Rand, x []float64, fs float64, pitch func(t float64) float64, power, vowel float64) {
	const lines = 8
	drawn := func() (a [lines]complex128) {
		for m := range a {
			a[m] = cmplx.Rect(0.3+0.7*r.Float64(), 2*math.Pi*r.Float64())
		}
		return a
	}
	from, to := drawn(), drawn()
	y := make([]float64, len(x))
	sum, turns, u := 0.0, 0.0, 0.0
	for i := range y {
		turns += pitch(float64(i)/fs) / fs
		for m := range lines {
			a := from[m] + complex(u, 0)*(to[m]-from[m])
			y[i] += real(a * cmplx.Rect(1, 2*math.Pi*float64(m+1)*turns))
		}
		sum += y[i] * y[i]
		if vowel > 0 {
			if u += 1 / (vowel * fs); u >= 1 {
				u, from, to = 0, to, drawn()
			}
		}
	}
	g := math.Sqrt(power * float64(len(y)) / sum)
	for i, v := range y {
		x[i] += g * v
	}
}

// Of two that sound at the same time the louder is meant, unless that one is a voice: a
// rotor, and 4 dB louder another, or what moves as the pitch of speech does, by a third
// and back two to four times a second, and changes its vowel five times a second.
func TestTheLouderOfTwoIsMeantUnlessItIsAVoice(t *testing.T) {
	const fs, seconds, rate = 16000.0, 4.0, 171.0
	still := func(hz float64) func(float64) float64 { return func(float64) float64 { return hz } }
	speech := func(t float64) float64 {
		return 124 * math.Exp(0.14*math.Sin(2*math.Pi*2.3*t)+0.08*math.Sin(2*math.Pi*3.7*t+1))
	}
	for _, c := range []struct {
		name  string
		pitch func(t float64) float64
		vowel float64
		first bool // is meant
	}{{"two rotors", still(263), 0, false}, {"a rotor and a voice", speech, 0.2, true}} {
		t.Run(c.name, func(t *testing.T) {
			r := rand.New(rand.NewPCG(3, 3))
			x := make([]float64, int(seconds*fs))
			stack(r, x, fs, still(rate), 0.01, 0)
			stack(r, x, fs, c.pitch, 0.01*math.Pow(10, 0.4), c.vowel)
			for i := range x {
				x[i] += 0.01 * r.NormFloat64()
			}
			src, err := sound.New(func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }, []int{0}, len(x), fs, fs)
			if err != nil {
				t.Fatal(err)
			}
			// followed by hand, as both pitches are known
			var by [2]*stretch
			for i, pitch := range [...]func(float64) float64{still(rate), c.pitch} {
				var course phase.Course
				for at := 0.0; at <= seconds; at += 0.02 {
					course.Add(at, pitch(at), 1e-3)
				}
				if by[i], err = refineCourse(src, course, 1e-3, Options{}); err != nil || by[i] == nil {
					t.Fatalf("%g Hz is not followed: %v", pitch(0), err)
				}
			}
			for i := range by {
				s, _, list, err := together(src, by[i], by[1-i], Options{Pulses: 1, Range: DefaultRange})
				if err != nil || s == nil {
					t.Fatalf("not told apart: %v", err)
				}
				at := s.middle() * list[0].ratio()
				if first := math.Abs(at/rate-1) < 0.01; first != c.first {
					t.Errorf("%.2f Hz is meant, the rates are %g and %.4g Hz", at, rate, c.pitch(seconds/2))
				}
				if holds, err := s.holdsApart(src); err != nil || !holds {
					t.Errorf("%.2f Hz is no rotor's beside the other: %v", at, err)
				}
			}
		})
	}
}

// A voice is what is as restless as voices are, whose agility is 1 to 12, and is no rotor
// by its odds; what has to be followed beside it must be one beyond doubt.
func TestBeatsVoice(t *testing.T) {
	moving := func(agility float64) *stretch {
		s := turning(150)
		s.fit.Q = math.Pow(agility*s.fit.Motion[0].Omega, 2)
		return s
	}
	clean := moving(4)
	if clean.fit.Coherence = 0.97; moving(0.01).beatsVoice(clean, 8, -4) {
		t.Error("what keeps its power in phase is taken for a voice")
	}
	calm := moving(0.01)
	if calm.fit.Coherence = 0.995; !calm.beatsVoice(clean, 8, -4) {
		t.Error("what loses six times as much of its power as the stretch beside it is taken for a rotor")
	}
	for _, c := range []struct {
		odds, other, agility float64
		want                 bool
	}{
		{4, -4, 4, true},
		{4, -4, 0.1, false}, // whatever it is, it does not move as a voice does
		{4, 0.5, 4, false},  // it may be a rotor in a flutter
		{8, 0.5, 4, true},   // but not by so much less
		{1, -4, 4, false},   // is there a rotor at all?
		{-4, -4, 4, false},
	} {
		if got := moving(0.01).beatsVoice(moving(c.agility), c.odds, c.other); got != c.want {
			t.Errorf("odds of %g and %g nats, agility %g: %v, want %v", c.odds, c.other, c.agility, got, c.want)
		}
	}
	held := moving(0.01)
	if held.still = 0.9; !held.beatsVoice(moving(4), 1, -4) {
		t.Error("what holds its rate, as no voice does, is taken for one beside what does not")
	}
}

// What is going to be refused for its odds is not the one of two that is meant, however
// well it keeps its power in phase and however loud it is.
func TestWhatIsRefusedDoesNotStandBesideARotor(t *testing.T) {
	rotor, other := turning(150), turning(230)
	rotor.still, rotor.fit.Coherence = 0.9, 0.91
	other.fit.Q = math.Pow(3*other.fit.Motion[0].Omega, 2)
	other.fit.Coherence = 0.955
	for _, c := range []struct {
		odds, other float64
		a, b        bool
	}{
		{2.7, -2, true, false},
		{2.7, 3, true, true},
		{-2, 3, false, true},
	} {
		a, b := rotor.standsBeside(other, c.odds, c.other), other.standsBeside(rotor, c.other, c.odds)
		if a != c.a || b != c.b {
			t.Errorf("odds of %g and %g nats: %v and %v, want %v and %v", c.odds, c.other, a, b, c.a, c.b)
		}
	}
}

// Two whistles whose lines flutter in strength by a quarter, rms, keep 1/(1+1/16) = 0.94 of
// their power in phase (the mean's square over the mean square), each in what the other
// leaves: both are rotors where both are so by a clear margin all the same, and neither is
// where one might be what several notes have in common.
func TestTwoThatFlutterInStrength(t *testing.T) {
	a, b := turning(150), turning(230)
	a.fit.Coherence, b.fit.Coherence = 16.0/17, 16.0/17
	for _, c := range []struct {
		odds, other float64
		want        bool
	}{
		{6.9, 7.4, true},
		{6.9, 3, false},
		{3, 6.9, false},
		{3, 3, false},
	} {
		if got := a.keepsBeside(b, c.odds, c.other); got != c.want {
			t.Errorf("odds of %g and %g nats: %v, want %v", c.odds, c.other, got, c.want)
		}
	}
}
