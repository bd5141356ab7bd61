package child

import (
	"encoding/json"
	"io"
	"sync"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/provenance"
)

// Serve answers the requests that arrive on in until it ends, writing events to
// out. It calls make once and all methods of the runner, except Interrupt, on
// the calling goroutine. If in ends while a cell runs, the parent is gone:
// Serve then calls orphaned, which should end the process.
func Serve(in io.Reader, out io.Writer, make func() (cell.Runner, error), orphaned func()) error {
	events := &writer{enc: json.NewEncoder(out)}
	r, err := make()
	if err != nil {
		events.send(event{Kind: "done", Fault: &cell.Fault{Name: "Error", Value: err.Error()}})
		return err
	}
	events.send(event{Kind: "ready"})
	work := newQueue()
	go func() {
		d := json.NewDecoder(in)
		for {
			var q request
			if d.Decode(&q) != nil {
				if work.close() {
					orphaned()
				}
				return
			}
			if q.Op == "interrupt" {
				r.Interrupt()
				continue
			}
			work.put(q)
		}
	}()
	for {
		q, ok := work.take()
		if !ok {
			return nil
		}
		events.send(answer(r, q, events))
		work.finished()
	}
}

func answer(r cell.Runner, q request, events *writer) event {
	done := event{Kind: "done"}
	switch q.Op {
	case "run":
		out := r.Run(cell.Request{Name: q.Name, ID: q.ID, Code: q.Code, Sink: events})
		done.Bundle, done.Fault = out.Result, out.Fault
	case "expr":
		b, fault := r.Expr(q.Code)
		done.Bundle, done.Fault = &b, fault
	case "complete":
		c := r.Complete(q.Code, q.Pos)
		done.Completion = &c
	case "inspect":
		b, found := r.Inspect(q.Code, q.Pos, q.Detail)
		done.Bundle, done.Found = &b, found
	case "is_complete":
		done.Status, done.Indent = r.IsComplete(q.Code)
	case "provenance":
		if o, ok := r.(interface{ Provenance() *provenance.Record }); ok {
			done.Provenance = o.Provenance()
		}
	default:
		done.Fault = &cell.Fault{Name: "Error", Value: "unknown request " + q.Op}
	}
	return done
}

// queue hands requests from the reading goroutine to the working one and knows
// whether a request is being worked on.
type queue struct {
	mu      sync.Mutex
	changed *sync.Cond
	waiting []request
	busy    bool
	closed  bool
}

func newQueue() *queue {
	q := &queue{}
	q.changed = sync.NewCond(&q.mu)
	return q
}

func (q *queue) put(r request) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.waiting = append(q.waiting, r)
	q.changed.Signal()
}

// take waits for the next request; it reports false when there will be none.
func (q *queue) take() (request, bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	for len(q.waiting) == 0 && !q.closed {
		q.changed.Wait()
	}
	if len(q.waiting) == 0 {
		return request{}, false
	}
	r := q.waiting[0]
	q.waiting = q.waiting[1:]
	q.busy = true
	return r, true
}

func (q *queue) finished() {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.busy = false
}

// close says that no request will follow; it reports whether one is being
// worked on or waiting.
func (q *queue) close() bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.closed = true
	q.changed.Signal()
	return q.busy || len(q.waiting) > 0
}

// writer is the [cell.Sink] that turns what a cell shows into events.
type writer struct {
	mu  sync.Mutex
	enc *json.Encoder
}

// send writes one event. A value that has no JSON form is left out of its
// bundle rather than lost with the whole event.
func (w *writer) send(e event) {
	if e.Bundle != nil {
		b := cell.Bundle{Data: encodable(e.Bundle.Data), Metadata: encodable(e.Bundle.Metadata)}
		e.Bundle = &b
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	// The parent being gone is noticed by the reading side.
	_ = w.enc.Encode(e)
}

func encodable(m map[string]any) map[string]any {
	good := map[string]any{}
	for key, v := range m {
		if _, ok := v.(string); !ok {
			text, err := json.Marshal(v)
			if err != nil {
				continue
			}
			v = json.RawMessage(text)
		}
		good[key] = v
	}
	return good
}

func (w *writer) Stream(name, text string) { w.send(event{Kind: "stream", Name: name, Text: text}) }

func (w *writer) Display(b cell.Bundle, id string) {
	w.send(event{Kind: "display", Bundle: &b, ID: id})
}

func (w *writer) Update(b cell.Bundle, id string) {
	w.send(event{Kind: "update", Bundle: &b, ID: id})
}

func (w *writer) Clear(wait bool) { w.send(event{Kind: "clear", Wait: wait}) }

func (w *writer) Page(b cell.Bundle) { w.send(event{Kind: "page", Bundle: &b}) }
