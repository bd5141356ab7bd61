package tacho

import "context"

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

// ended returns the error of a context that has ended; nil never ends.
func ended(ctx context.Context) error {
	if ctx == nil {
		return nil
	}
	return ctx.Err()
}
