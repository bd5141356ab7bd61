package transform

import (
	"context"
	"errors"
	"slices"
	"testing"
)

// patience is a context that ends when it has been looked at so many times.
type patience struct {
	context.Context
	looks, left int
}

func (p *patience) Err() error {
	p.looks++
	if p.left--; p.left < 0 {
		return context.Canceled
	}
	return nil
}

func newPatience(left int) *patience { return &patience{Context: context.Background(), left: left} }

// Long work looks at its context often, ends wherever it happens to be, and leaves
// a plan that works.
func TestLongWorkEnds(t *testing.T) {
	bothWays(t, func(t *testing.T) {
		for _, n := range []int{
			1 << 21,           // in two rounds
			8 * 3 * 5 * 15625, // in passes over the whole
			262147 * 2,        // twice a prime
			262147,            // a prime
		} {
			x := randoms(n, 1)
			patient := newPatience(1 << 30)
			p, err := NewRealWith(patient, n)
			if err != nil {
				t.Fatal(err)
			}
			making := patient.looks
			want := slices.Clone(p.Forward(nil, x))
			patient = newPatience(1 << 30)
			if _, err := p.ForwardWith(patient, nil, x); err != nil {
				t.Fatal(err)
			}
			forward := patient.looks
			patient = newPatience(1 << 30)
			if _, err := p.InverseWith(patient, nil, want); err != nil {
				t.Fatal(err)
			}
			inverse := patient.looks
			if least := max(4, n>>18); making < least || forward < least || inverse < least {
				t.Errorf("n = %d: %d looks for the plan, %d forward and %d back, want at least %d", n, making, forward, inverse, least)
			}
			for _, share := range []float64{0, 0.3, 0.8} {
				if q, err := NewRealWith(newPatience(int(share*float64(making))), n); q != nil || !errors.Is(err, context.Canceled) {
					t.Errorf("n = %d: a plan %v, error %v", n, q != nil, err)
				}
				if line, err := p.ForwardWith(newPatience(int(share*float64(forward))), nil, x); line != nil || !errors.Is(err, context.Canceled) {
					t.Errorf("n = %d forward: a result %v, error %v", n, line != nil, err)
				}
				if line, err := p.InverseWith(newPatience(int(share*float64(inverse))), nil, want); line != nil || !errors.Is(err, context.Canceled) {
					t.Errorf("n = %d back: a result %v, error %v", n, line != nil, err)
				}
			}
			if !slices.Equal(p.Forward(nil, x), want) {
				t.Errorf("n = %d: another result after work that was ended", n)
			}
			if clone, err := p.Clone().ForwardWith(context.Background(), nil, x); err != nil || !slices.Equal(clone, want) {
				t.Errorf("n = %d: a clone gives another result, error %v", n, err)
			}
		}
	})
}

// What is not the context's doing comes through.
func TestMistakesComeThrough(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("no panic")
		}
	}()
	NewReal(16).ForwardWith(context.Background(), nil, make([]float64, 15))
}
