package tacho

import (
	"math"
	"testing"

	"rotorhum/tacho/internal/phase"
)

// part is what a stretch is between two moments.
func (s *stretch) part(from, to float64) *stretch {
	r := &phase.Result{}
	for i, b := range s.fit.Blocks {
		if b.T >= from && b.T <= to {
			r.Blocks, r.Motion, r.SNR = append(r.Blocks, b), append(r.Motion, s.fit.Motion[i]), append(r.SNR, s.fit.SNR[i])
		}
	}
	return &stretch{fit: r}
}

// What was refused of a stretch that is heard as a whole now says nothing against it:
// neither its parts, nor a part of it read as a line of its shaft. What sounded at the
// same time does, and the whole against a part of it.
func TestStrangersAreNotPiecesOfTheSame(t *testing.T) {
	const pulses = 5
	whole := turning(150)
	for _, c := range []struct {
		name string
		s    *stretch
		of   []*stretch
		want int
	}{
		{"two parts", whole, []*stretch{whole.part(0, 0.9), whole.part(1.1, 2)}, 0},
		{"a line of the shaft", whole, []*stretch{turning(60).part(0.5, 1.5)}, 0},
		{"another rate", whole, []*stretch{whole.part(0, 0.9), turning(171).part(0, 0.9)}, 1},
		{"a part of what was refused", whole.part(0, 0.6), []*stretch{whole}, 1},
	} {
		if got := c.s.strangers(c.of, pulses); got != c.want {
			t.Errorf("%s: %d strangers, want %d", c.name, got, c.want)
		}
	}
}

// Syllables that were refused say nothing against what holds its rate, nor notes against
// what moves; of its own kind the more are refused the more pass by chance: 1 + n of them
// where one did.
func TestWhatPassesByChanceIsOfItsOwnKind(t *testing.T) {
	note := turning(171).part(0, 0.9)
	note.still = 0.95
	syllable := turning(190).part(1, 1.6)
	syllable.fit.Q = math.Pow(4*syllable.fit.Motion[0].Omega, 2)
	f := &finder{refused: []*stretch{note, syllable, syllable}, notes: []*stretch{note}}
	held, moving := turning(150), turning(150)
	held.still = 0.9
	for _, c := range []struct {
		name string
		s    *stretch
		want float64
	}{{"held", held, math.Log(2)}, {"moving", moving, math.Log(3)}} {
		if got := f.byChance(c.s, 1); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %g nats, want %g", c.name, got, c.want)
		}
	}
}
