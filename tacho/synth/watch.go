package synth

import (
	"context"
	"iter"
)

// Watch says how to accompany the making of a long recording: it can be ended
// early, and tell how far it is. The zero value does neither.
type Watch struct {
	// Context, if not nil, ends the work early: the error is its own.
	Context context.Context
	// Progress, if not nil, is called with the share done, 0 to 1.
	Progress func(done float64)
}

// work is the making of a recording. Once its watch has ended, every loop over
// samples ends: what is made then is of no use, and whoever makes it finds out
// by err.
type work struct {
	Watch
	parts, done int // sounds and channels to make, and made
}

// err returns the error of the context once that has ended.
func (w *work) err() error {
	if ctx := w.context(); ctx != nil {
		return ctx.Err()
	}
	return nil
}

// context returns the context that ends the work, or nil.
func (w *work) context() context.Context {
	if w == nil {
		return nil
	}
	return w.Context
}

// finish tells that another part is done.
func (w *work) finish() {
	w.done++
	if w.Progress != nil {
		w.Progress(float64(w.done) / float64(w.parts))
	}
}

// samplesPerLook is how many samples are made between two looks at the watch.
const samplesPerLook = 1 << 14

// pieces yields the beginnings and ends of pieces of n samples, in order, as long
// as the watch has not ended.
func (w *work) pieces(n int) iter.Seq2[int, int] {
	return func(yield func(from, to int) bool) {
		for from := 0; from < n; from += samplesPerLook {
			if w.err() != nil || !yield(from, min(from+samplesPerLook, n)) {
				return
			}
		}
	}
}

// watched returns the work that the watch of a plain signal ends early; it may have
// been left out.
func watched(watch []Watch) *work {
	if len(watch) == 0 {
		return nil
	}
	return &work{Watch: watch[0]}
}

// whole returns the signal x, or nil if it was not finished.
func (w *work) whole(x []float64) []float64 {
	if w.err() != nil {
		return nil
	}
	return x
}
