package tacho

import (
	"math"
	"math/rand/v2"
	"testing"
)

// knocked returns six seconds, at 16 kHz, of knocks at irregular moments, some four a
// second, each followed by the same tail of the room, of 1.5 s.
func knocked(seed uint64) []float64 {
	const fs, seconds = 16000, 6
	r := rand.New(rand.NewPCG(seed, 5))
	tail := make([]float64, 3*fs/2)
	for i := range tail {
		tail[i] = r.NormFloat64() * math.Pow(10, -3*float64(i)/float64(len(tail)))
	}
	x := make([]float64, seconds*fs)
	for t := 0.2; t < seconds; t += 0.25 * (1 + 0.15*r.NormFloat64()) {
		at, a := int(t*fs), 1+0.1*r.NormFloat64()
		for i, v := range tail {
			if at+i < len(x) {
				x[at+i] += a * v
			}
		}
	}
	for i := range x {
		x[i] = 0.05*x[i] + 1e-4*r.NormFloat64()
	}
	return x
}

// What a room rings with and the moments of the knocks make some frequencies stand out as
// lines do. They are no rotor's.
func TestKnocksInARoomAreNoRotor(t *testing.T) {
	t.Parallel()
	for _, seed := range []uint64{1, 8} {
		rec, err := NewRecording("knocks", 16000, knocked(seed))
		if err != nil {
			t.Fatal(err)
		}
		track, err := Follow(rec, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if track.Verdict != VerdictNoReading {
			t.Errorf("seed %d: knocks are read as a rotor of %v, %s", seed, track.Points[0].Tone, track.Verdict)
		}
	}
}

// A family at a third of the supply's frequency is a hum if what the supply has not
// hardly sounds, and a rotor's if it does.
func TestFamilyOfASupply(t *testing.T) {
	family := func(hz float64, db ...float64) *Family {
		f := &Family{Tone: Value{X: hz}}
		for i, v := range db {
			if v != 0 {
				f.Lines = append(f.Lines, Harmonic{M: float64(i + 1), SNR: v})
			}
		}
		return f
	}
	for _, c := range []struct {
		f    *Family
		want bool
	}{
		{family(50.01, 20, 10), true},
		{family(119.9, 20), true},
		{family(20.005, 5, 10, 14, 0, 0, 6, 0, 0, 22, 0, 0, 6, 0, 0, 16), true},
		{family(20.005, 15, 10, 14, 0, 0, 6, 0, 0, 12), false},
		{family(25.01, 3, 20, 3, 20), true},
		{family(25.01, 20, 20, 13, 20), false},
		{family(61, 20, 10), false},
		{family(21, 3, 3, 20), false},
	} {
		if got := c.f.supplied(); got != c.want {
			t.Errorf("%g Hz with %d lines: %v", c.f.Tone.X, len(c.f.Lines), got)
		}
	}
}

// A reading among notes that is hardly likelier than one at an odd ratio is none, unless
// that is another rotor's.
func TestTornAmongNotes(t *testing.T) {
	odd := Alternative{Factor: "19/8", Odds: 3, Tone: 2.375}
	for _, c := range []struct {
		notes  int
		still  float64
		alt    Alternative
		others []Alternative
		want   bool
	}{
		{2, 0.8, odd, nil, true},
		{1, 0.8, odd, nil, false},
		{4, 0.1, odd, nil, false},
		{2, 0.8, Alternative{Factor: "19/8", Odds: 1e4, Tone: 2.375}, nil, false},
		{2, 0.8, Alternative{Factor: "1/2", Odds: 3, Tone: 0.5}, nil, false},
		{2, 0.8, odd, []Alternative{odd}, false},
	} {
		s := &stretch{amidNotes: c.notes, still: c.still, alternatives: []Alternative{c.alt}, others: c.others}
		if got := s.tornByNotes(); got != c.want {
			t.Errorf("%+v: %v", c, got)
		}
	}
}

// A stack far louder than what is followed in short frames is not fitted where only a
// faint one is asked for, and is otherwise.
func TestNoLoudFamilyIsAFaintOne(t *testing.T) {
	x := make([]float64, 32000)
	r := rand.New(rand.NewPCG(1, 1))
	for i := range x {
		for h := 1.0; h <= 16; h++ {
			x[i] += 0.02 * math.Sin(2*math.Pi*h*97.3*float64(i)/16000+h*h)
		}
		x[i] += 0.001 * r.NormFloat64()
	}
	src, opt := opened(t, Options{}, 16000, x)
	if f, err := findFamily(src, 0, src.Frames, opt); err != nil || math.Abs(f.Tone.X-97.3) > 0.01 {
		t.Fatalf("%+v, %v: want 97.3 Hz", f, err)
	}
	opt.faint = true
	if f, err := findFamily(src, 0, src.Frames, opt); err != ErrNoReading {
		t.Errorf("%+v, %v: want none", f, err)
	}
}
