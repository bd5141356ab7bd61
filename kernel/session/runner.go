package session

import (
	"fmt"
	"log/slog"
	"sync"

	"rotorhum/kernel/cell"
)

// runnerOwner is the goroutine that owns the interpreter: it makes it and makes
// every call but Interrupt, because an interpreter's run state belongs to one
// goroutine.
type runnerOwner struct {
	calls chan func()
	ready chan struct{} // closed when the interpreter is made, or cannot be

	runner cell.Runner // nil if it could not be made; set before ready is closed
	err    error
	end    sync.Once
}

func startRunner(start func() (cell.Runner, error), log *slog.Logger) *runnerOwner {
	o := &runnerOwner{calls: make(chan func()), ready: make(chan struct{})}
	go func() {
		func() {
			defer func() {
				if p := recover(); p != nil {
					o.err = fmt.Errorf("%v", p)
				}
			}()
			o.runner, o.err = start()
		}()
		if o.err != nil {
			o.runner, o.err = nil, fmt.Errorf("the interpreter could not start: %w", o.err)
			log.Error("start", "err", o.err)
		}
		close(o.ready)
		for call := range o.calls {
			call()
		}
		if c, ok := o.runner.(interface{ Close() }); ok {
			c.Close()
		}
	}()
	return o
}

// do calls f with the interpreter on its goroutine and waits. A panic in f
// comes out here.
func (o *runnerOwner) do(f func(cell.Runner)) error {
	var panicked any
	done := make(chan struct{})
	o.calls <- func() {
		defer close(done)
		if o.err != nil {
			return
		}
		defer func() { panicked = recover() }()
		f(o.runner)
	}
	<-done
	if panicked != nil {
		panic(panicked)
	}
	return o.err
}

// interrupt stops the running cell as far as the interpreter can.
func (o *runnerOwner) interrupt() {
	select {
	case <-o.ready:
		if o.runner != nil {
			o.runner.Interrupt()
		}
	default:
	}
}

// stop lets the goroutine end; no call may follow.
func (o *runnerOwner) stop() { o.end.Do(func() { close(o.calls) }) }
