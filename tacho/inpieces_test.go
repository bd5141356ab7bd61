package tacho

import (
	"testing"

	"rotorhum/tacho/internal/phase"
)

// Pieces of which each alone is a little too much to believe are a rotor's together; not
// so with one that no rotor makes, among notes, or side by side.
func TestPiecesOfOneRotor(t *testing.T) {
	piece := func(from, to, nats float64) *stretch {
		r := &phase.Result{}
		for at := from; at < to; at += 0.02 {
			r.Blocks = append(r.Blocks, phase.Block{T: at, Length: 0.1})
		}
		return &stretch{fit: r, nats: nats, rotor: nats - caution}
	}
	one := func() []*stretch { return []*stretch{piece(3, 4, 4.2)} }
	for _, c := range []struct {
		what    string
		kept    []*stretch
		refused []*stretch
		notes   []*stretch
		want    int
	}{
		{"one kept, one refused", one(), []*stretch{piece(1, 2, 0.5)}, nil, 2},
		{"two refused", nil, []*stretch{piece(3, 4, 2.3), piece(1, 2, 2.3)}, nil, 2},
		{"too little together", nil, []*stretch{piece(3, 4, 2.2), piece(1, 2, 2.2)}, nil, 0},
		{"no rotor's among them", one(), []*stretch{piece(1, 2, -4)}, nil, 1},
		{"among notes", one(), []*stretch{piece(1, 2, 0.5)}, []*stretch{piece(0, 0.5, 1)}, 1},
		{"side by side", one(), []*stretch{piece(2.5, 3.5, 2)}, nil, 1},
		{"nothing refused", one(), nil, nil, 1},
		{"one refused alone", nil, []*stretch{piece(1, 2, 4.6)}, nil, 0},
	} {
		f := &finder{refused: c.refused, notes: c.notes}
		out, found := f.inPieces(c.kept)
		if len(out) != c.want || found != (len(out) > len(c.kept)) {
			t.Errorf("%s: %d stretches, found %v; want %d", c.what, len(out), found, c.want)
		}
		for i, s := range out {
			if found && (!s.piece || s.rotor < beyondDoubt) {
				t.Errorf("%s: stretch %d is refused later", c.what, i)
			}
			if i > 0 && out[i-1].fit.Blocks[0].T > s.fit.Blocks[0].T {
				t.Errorf("%s: not in the order of time", c.what)
			}
		}
	}
}
