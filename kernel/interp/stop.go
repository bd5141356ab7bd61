package interp

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"time"

	"rotorhum/kernel/cell"
)

// stopper is the state that Interrupt, called from any goroutine, shares with
// the running cell.
type stopper struct {
	mu      sync.Mutex
	running bool
	asked   atomic.Bool // since the cell started
	fault   *cell.Fault // of a goroutine, ends the cell
	ctx     context.Context
	cancel  context.CancelFunc
	signal  chan struct{} // closed by an interrupt
	cells   int           // how many have run
	gentle
}

func (s *stopper) idle() {
	s.ctx, s.cancel = context.WithCancel(context.Background())
	s.cancel()
}

func (s *stopper) begin() context.Context {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.running = true
	s.asked.Store(false)
	s.fault = nil
	s.signal = make(chan struct{})
	s.cells++
	s.forget()
	s.ctx, s.cancel = context.WithCancel(context.Background())
	return s.ctx
}

func (s *stopper) end() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.running = false
	s.cancel()
}

// raise wakes everything that waits in the running cell. The lock is held.
func (s *stopper) raise() {
	if s.ctx.Err() == nil {
		close(s.signal)
	}
	s.cancel()
}

// goroutineFault returns the fault of a goroutine that ended the cell, or nil.
func (s *stopper) goroutineFault() *cell.Fault {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.fault
}

// Interrupt stops the running cell as soon as it can: at once in interpreted
// code and in time.Sleep, and at the next look in compiled functions that
// watch the cell's context. It does nothing when no cell runs.
func (in *Interp) Interrupt() {
	s := &in.stop
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.running || s.heed() {
		return
	}
	if !s.asked.Swap(true) {
		in.expectEnd(s.cells)
	}
	s.raise()
	in.ir.Interrupt(nil)
	for _, f := range in.opt.OnInterrupt {
		f()
	}
}

// patience is how long an interrupted cell may go on before it is said why.
const patience = 2 * time.Second

// expectEnd tells the person waiting when the n-th cell goes on in spite of an
// interrupt.
func (in *Interp) expectEnd(n int) {
	time.AfterFunc(in.patience, func() {
		in.stop.mu.Lock()
		still := in.stop.running && in.stop.cells == n
		in.stop.mu.Unlock()
		if still {
			in.cap.write(in.cap.err, []byte("[a compiled function is running, which cannot be interrupted; if it does not end by itself, restart the kernel]\n"))
		}
	})
}

// Interrupted reports whether the running cell has been asked to stop.
func (in *Interp) Interrupted() bool { return in.stop.asked.Load() }

// errInterrupted is the panic value with which compiled helpers leave an
// interrupted cell.
var errInterrupted = errors.New("interrupted")
