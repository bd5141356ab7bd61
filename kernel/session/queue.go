package session

import (
	"sync"
	"time"

	"rotorhum/kernel/wire"
)

// queue holds shell requests until their turn. It has no bound of its own:
// requests are small and clients wait for replies.
type queue struct {
	mu     sync.Mutex
	more   sync.Cond
	items  []*request
	closed bool
}

func (q *queue) init() { q.more.L = &q.mu }

func (q *queue) put(r *request) {
	q.mu.Lock()
	q.items = append(q.items, r)
	q.mu.Unlock()
	q.more.Signal()
}

// take returns the next request; nil means that the queue is closed and empty.
func (q *queue) take() *request {
	q.mu.Lock()
	defer q.mu.Unlock()
	for len(q.items) == 0 && !q.closed {
		q.more.Wait()
	}
	if len(q.items) == 0 {
		return nil
	}
	r := q.items[0]
	q.items[0] = nil
	q.items = q.items[1:]
	return r
}

func (q *queue) close() {
	q.mu.Lock()
	q.closed = true
	q.mu.Unlock()
	q.more.Broadcast()
}

// clocks tells when a client sent a message, on our clock. A client's clock may
// be off by any amount, but the smallest difference seen between its date on a
// message and that message's arrival is that amount plus the fastest journey.
// A date in whole seconds is too coarse for that and passes for the arrival.
type clocks struct {
	mu      sync.Mutex
	fastest map[string]time.Duration // by the client's session
}

// clientLimit bounds how many clients' clocks are remembered.
const clientLimit = 256

func (c *clocks) sent(h wire.Header, arrived time.Time) time.Time {
	date, err := time.Parse(time.RFC3339Nano, h.Date)
	if err != nil || date.Nanosecond() == 0 {
		return arrived
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	journey := arrived.Sub(date)
	if c.fastest == nil || len(c.fastest) >= clientLimit {
		c.fastest = map[string]time.Duration{}
	}
	if f, known := c.fastest[h.Session]; !known || journey < f {
		c.fastest[h.Session] = journey
	}
	return date.Add(c.fastest[h.Session])
}
