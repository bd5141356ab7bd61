package session

import (
	"fmt"
	"sort"
	"sync"
	"time"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/ledger"
	"rotorhum/kernel/wire"
)

type executeRequest struct {
	Code        string            `json:"code"`
	Silent      bool              `json:"silent"`
	Store       *bool             `json:"store_history"`
	Expressions map[string]string `json:"user_expressions"`
	AllowStdin  *bool             `json:"allow_stdin"`
	StopOnError *bool             `json:"stop_on_error"`
}

type executeInput struct {
	Code  string `json:"code"`
	Count int    `json:"execution_count"`
}

type executeReply struct {
	Status      string         `json:"status"`
	Count       int            `json:"execution_count"`
	Expressions map[string]any `json:"user_expressions"`
	Payload     []page         `json:"payload"`
}

type executeFailed struct {
	failed
	Count       int            `json:"execution_count"`
	Expressions map[string]any `json:"user_expressions"`
	Payload     []page         `json:"payload"`
}

// aborted is the reply to a cell that was not run because one before it failed.
type aborted struct {
	Status string `json:"status"`
	Count  int    `json:"execution_count"`
}

type errorContent struct {
	Name      string   `json:"ename"`
	Value     string   `json:"evalue"`
	Traceback []string `json:"traceback"`
}

// startedAt is the reply metadata by which front ends time cells.
type startedAt struct {
	Started string `json:"started"`
}

// gathering is how long after its arrival a cell's failure is reported at the
// earliest: a client that sends cells one right behind the other has sent them by
// then, and they are aborted, however fast the first one fails.
const gathering = 3 * time.Millisecond

// overlap bounds how long after a failed cell's reply a cell may arrive that was
// sent before that reply.
const overlap = time.Second

func execute(r *request) (any, error) {
	s := r.s
	r.count = s.count
	r.metadata = startedAt{wire.Date(time.Now())}
	if s.isClosing() || r.arrived.Before(s.abortAt) || r.sent.Before(s.abortAt) && r.arrived.Before(s.abortAt.Add(overlap)) {
		return aborted{"aborted", s.count}, nil
	}
	var c executeRequest
	if err := decode(r, &c); err != nil {
		return nil, err
	}
	count := s.count + 1
	store := !c.Silent && (c.Store == nil || *c.Store)
	if store {
		s.count = count
	}
	r.count = count
	if !c.Silent {
		s.publish("execute_input", r.msg, executeInput{c.Code, count}, nil)
	}
	out := &sink{s: s, parent: r.msg, silent: c.Silent, pages: []page{}}
	from := originOf(r.msg)
	ask := cell.Request{Name: fmt.Sprintf("In[%d]", count), ID: from.Cell, Deleted: from.Deleted, Code: c.Code, Sink: out}
	if c.AllowStdin == nil || *c.AllowStdin {
		ask.Input = func(prompt string, password bool) (string, error) { return s.ask(r.msg, r.run, prompt, password) }
	}
	var end cell.Outcome
	expressions := map[string]any{}
	var stale, plan ledger.List
	started := s.runner.do(func(i cell.Runner) {
		end = i.Run(ask)
		if end.Fault == nil {
			expressions = evaluate(i, c.Expressions)
		}
		if b, ok := i.(bookkeeper); ok && !c.Silent {
			if b.Refresh() && end.Fault == nil {
				plan = b.Plan()
			}
			stale = b.Stale()
		}
	})
	if started != nil {
		end.Fault = &cell.Fault{Name: "KernelError", Value: started.Error(), Traceback: []string{started.Error()}}
	}
	if store {
		s.history.Add(count, c.Code, plainText(end.Result))
		s.page.note(ask.Name, r.msg, count, from.Cell)
	}
	if !c.Silent {
		s.conclude(r.msg, count, end)
		if len(plan) > 0 {
			s.runner.do(func(i cell.Runner) {
				s.refresh(r, i, plan)
				stale = i.(bookkeeper).Stale()
			})
		}
		s.notice(r.msg, stale)
	}
	if f := end.Fault; f != nil {
		if r.failed = c.StopOnError == nil || *c.StopOnError; r.failed {
			time.Sleep(time.Until(r.arrived.Add(gathering)))
		}
		return executeFailed{failed{"error", f.Name, f.Value, traceback(f)}, count, map[string]any{}, out.takePages()}, nil
	}
	return executeReply{"ok", count, expressions, out.takePages()}, nil
}

// stopQueue aborts the cells that were sent before the client could know that
// this one failed.
func stopQueue(r *request) {
	if r.failed {
		r.s.abortAt = time.Now()
	}
}

// evaluate renders a request's user_expressions; one that fails spoils only its
// own entry.
func evaluate(i cell.Runner, expressions map[string]string) map[string]any {
	names := make([]string, 0, len(expressions))
	for name := range expressions {
		names = append(names, name)
	}
	sort.Strings(names) // a fixed order: expressions may have effects
	values := map[string]any{}
	for _, name := range names {
		b, fault := i.Expr(expressions[name])
		if fault != nil {
			values[name] = failure(fault.Name, fault.Value)
			continue
		}
		values[name] = struct {
			Status string `json:"status"`
			bundle
		}{"ok", encodable(b)}
	}
	return values
}

func plainText(b *cell.Bundle) string {
	if b == nil {
		return ""
	}
	text, _ := b.Data["text/plain"].(string)
	return text
}

// running is a cell that runs, or is about to, or has just ended.
type running struct {
	stop        sync.Once
	interrupted chan struct{} // closed by the first interrupt
	ended       chan struct{}
	parent      *wire.Message
}

func (s *Session) begin(parent *wire.Message) *running {
	run := &running{parent: parent, interrupted: make(chan struct{}), ended: make(chan struct{})}
	s.mu.Lock()
	s.running = run
	s.mu.Unlock()
	return run
}

func (s *Session) end(run *running) {
	s.mu.Lock()
	s.running = nil
	s.mu.Unlock()
	close(run.ended)
}
