package tacho

import (
	"math"
	"testing"

	"rotorhum/tacho/internal/phase"
)

// A rotor that is pushed amid a recording is heard as two stretches. Where the lines of
// the slower one say plainly what it is, it does not become a multiple of itself because
// that lies nearer to the rate behind the push; where they hardly say anything, what joins
// on is read.
func TestPushIsNoReasonToReadAMultiple(t *testing.T) {
	between := func(from, to, rate float64) *stretch {
		s := &stretch{fit: &phase.Result{}}
		for x := from; x <= to+1e-9; x += 0.01 {
			s.fit.Blocks = append(s.fit.Blocks, phase.Block{T: x, Length: 0.02})
			s.fit.Motion = append(s.fit.Motion, phase.Smooth{Omega: 2 * math.Pi * rate, OmegaVar: 1e-6, AlphaVar: 1e-6})
		}
		return s
	}
	before, behind := between(1.5, 4.17, 414), between(4.24, 11, 1050)
	behind.evidence = 1
	for _, c := range []struct {
		ahead float64 // of what its lines say, in nats, for reading it as it is
		want  int
	}{{6.5, 1}, {2, 3}} {
		lists := [][]reading{
			{{num: 1, den: 1, score: 17}, {num: 3, den: 1, score: 17 - c.ahead}},
			{{num: 1, den: 1, score: 17}},
		}
		agree([]*stretch{before, behind}, lists)
		if got := lists[0][0].num; got != c.want {
			t.Errorf("%g nats ahead: read %d times as fast, want %d", c.ahead, got, c.want)
		}
	}
}
