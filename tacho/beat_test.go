package tacho

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

// beatTrack is a track whose loudness swings by the given law.
func beatTrack(law BeatLaw, rate, swing float64, seed uint64) *Track {
	src := rand.New(rand.NewPCG(3, seed))
	tr := &Track{Verdict: VerdictVarying, Step: 0.02, Seconds: 16}
	turn := 0.0
	for i := range 800 {
		t := 0.02 * float64(i)
		fr := 30 * math.Exp(-t/16)
		tr.Points = append(tr.Points, TrackPoint{T: t, Tone: Hertz(4 * fr), Lo95: Hertz(4*fr - 0.1), Hi95: Hertz(4*fr + 0.1),
			SNR: 25 - t/2 + swing*math.Cos(2*math.Pi*turn) + src.NormFloat64()})
		if law == BeatInverse {
			turn += 0.02 * rate / fr
		} else {
			turn += 0.02 * rate
		}
	}
	return tr
}

func TestFindBeat(t *testing.T) {
	rotor := Rotor{Pulses: 4}
	for _, c := range []struct {
		law, other BeatLaw
		rate       float64
	}{{BeatInverse, BeatSteady, 8}, {BeatSteady, BeatInverse, 0.7}} {
		inside := 0
		for seed := range uint64(40) {
			b, err := FindBeat(beatTrack(c.law, c.rate, 3, seed), rotor, c.law, 0.3*c.rate, 3*c.rate)
			if err != nil {
				t.Fatal(err)
			}
			if lo, hi := b.Rate.CI95(); lo <= c.rate && c.rate <= hi {
				inside++
			}
			if math.Abs(b.Rate.X/c.rate-1) > 0.02 || math.Abs(b.Swing-3) > 0.5 {
				t.Errorf("%s: %v, made with %g and 3 dB", c.law, b, c.rate)
			}
			// the other law must explain it worse, or not at all
			if o, err := FindBeat(beatTrack(c.law, c.rate, 3, seed), rotor, c.other, 0.2, 30); err == nil && o.Explained > b.Explained-0.1 {
				t.Errorf("%s explains a beat made %s as well: %.2f and %.2f", c.other, c.law, o.Explained, b.Explained)
			}
		}
		if inside < 34 {
			t.Errorf("%s: %d of 40 intervals hold the truth", c.law, inside)
		}
	}
	if _, err := FindBeat(beatTrack(BeatSteady, 1, 0, 1), rotor, BeatSteady, 0.3, 3); !errors.Is(err, ErrNoBeat) {
		t.Errorf("no beat: %v", err)
	}
	if _, err := FindBeat(beatTrack(BeatSteady, 1, 3, 1), rotor, "odd", 0.3, 3); !errors.Is(err, ErrOption) {
		t.Errorf("odd law: %v", err)
	}
}
