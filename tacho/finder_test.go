package tacho

import (
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
