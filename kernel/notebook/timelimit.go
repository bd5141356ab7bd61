package notebook

import (
	"context"
	"encoding/json"
	"math"
	"sync/atomic"
	"time"

	"rotorhum/kernel/cell"
)

// timeLimit returns the time limit that c or its notebook states in metadata,
// else DefaultTimeout. A limit that is not a positive number counts as none.
func (nb *Notebook) timeLimit(c *Cell) time.Duration {
	for _, metadata := range []map[string]any{c.Metadata, nb.Metadata} {
		own, _ := metadata[kernelName].(map[string]any)
		n, ok := own["timeout_s"].(json.Number)
		if !ok {
			continue
		}
		s, err := n.Float64()
		if err == nil && s > 0 && s < math.MaxInt64/float64(time.Second) {
			return time.Duration(s * float64(time.Second))
		}
	}
	return DefaultTimeout
}

// A timeLimit interrupts a runner when its time is up or its context ends, and
// kills it if that does not help.
type timeLimit struct {
	timedOut atomic.Bool
	done     chan struct{}
	gone     chan struct{}
}

func newTimeLimit(ctx context.Context, r cell.Runner, limit, grace time.Duration) *timeLimit {
	if grace == 0 {
		grace = 5 * time.Second
	}
	t := &timeLimit{done: make(chan struct{}), gone: make(chan struct{})}
	go func() {
		defer close(t.gone)
		timer := time.NewTimer(limit)
		defer timer.Stop()
		select {
		case <-t.done:
			return
		case <-timer.C:
			t.timedOut.Store(true)
		case <-ctx.Done():
		}
		patience := time.NewTimer(grace)
		defer patience.Stop()
		again := time.NewTicker(100 * time.Millisecond)
		defer again.Stop()
		for {
			// An interrupt that comes before the cell has begun is lost on the
			// runner, so one is not enough.
			r.Interrupt()
			select {
			case <-t.done:
				return
			case <-again.C:
			case <-patience.C:
				if s, ok := r.(Session); ok {
					s.Kill()
				}
				return
			}
		}
	}()
	return t
}

// stop ends the watch and reports whether the time was up.
func (t *timeLimit) stop() bool {
	close(t.done)
	<-t.gone
	return t.timedOut.Load()
}
