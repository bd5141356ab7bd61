package tacho

import (
	"context"
	"iter"
)

// Watch says how to accompany long work: it can be ended early, and tell how
// far it is. The zero value does neither.
type Watch struct {
	// Context, if not nil, ends the work early: the error is its own.
	Context context.Context
	// Progress, if not nil, is called with the share done, 0 to 1.
	Progress func(done float64)
}

// stopped returns the error of the context once that has ended.
func (w Watch) stopped() error { return ended(w.Context) }

// told tells the share done.
func (w Watch) told(done float64) {
	if w.Progress != nil {
		w.Progress(done)
	}
}

// contextOf returns the context of a watch that may have been left out; it may be
// nil.
func contextOf(watch []Watch) context.Context {
	if len(watch) == 0 {
		return nil
	}
	return watch[0].Context
}

// ended returns the error of a context that has ended; nil never ends.
func ended(ctx context.Context) error {
	if ctx == nil {
		return nil
	}
	return ctx.Err()
}

// samplesPerLook is how many samples are worked on between two looks at a context.
const samplesPerLook = 1 << 16

// pieces yields the beginnings and ends of pieces of n samples, in order, as long
// as the context has not ended.
func pieces(ctx context.Context, n int) iter.Seq2[int, int] {
	return func(yield func(from, to int) bool) {
		for from := 0; from < n; from += samplesPerLook {
			if ended(ctx) != nil || !yield(from, min(from+samplesPerLook, n)) {
				return
			}
		}
	}
}
