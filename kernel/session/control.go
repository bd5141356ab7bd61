package session

import "time"

type okReply struct {
	Status string `json:"status"`
}

type shutdownReply struct {
	Status  string `json:"status"`
	Restart bool   `json:"restart"`
}

func interrupt(r *request) (any, error) {
	r.s.Interrupt()
	return okReply{"ok"}, nil
}

// nagTimes are the pauses after which an interrupt is repeated while the cell
// goes on: it may not have begun when the first came, or have recovered from it.
func nagTimes() []time.Duration {
	return []time.Duration{5 * time.Millisecond, 20 * time.Millisecond, 75 * time.Millisecond, 400 * time.Millisecond, time.Second}
}

// Interrupt stops the cell that runs; the interpreter's state stays. It does
// nothing if no cell runs.
func (s *Session) Interrupt() {
	s.mu.Lock()
	run := s.running
	s.mu.Unlock()
	if run == nil || !s.interruptCell(run) {
		return
	}
	run.stop.Do(func() {
		close(run.interrupted)
		go s.nag(run)
	})
}

// interruptCell passes an interrupt on and reports whether the cell still runs.
func (s *Session) interruptCell(run *running) bool {
	s.mu.Lock() // so that it cannot end, and the next one be hit
	defer s.mu.Unlock()
	if s.running != run {
		return false
	}
	s.runner.interrupt()
	return true
}

// nag repeats an interrupt until the cell ends, and at last says why it does not.
func (s *Session) nag(run *running) {
	for _, pause := range nagTimes() {
		select {
		case <-run.ended:
			return
		case <-time.After(pause):
			if !s.interruptCell(run) {
				return
			}
		}
	}
	s.publish("stream", run.parent, stream{"stderr", "The cell is inside a compiled call that cannot be interrupted; it will stop when that call returns. To stop it now, restart the kernel: what the cells have defined is then lost.\n"}, nil)
}

func shutdown(r *request) (any, error) {
	var c struct {
		Restart bool `json:"restart"`
	}
	err := decode(r, &c)
	r.restart = c.Restart
	return shutdownReply{"ok", c.Restart}, err
}

// afterShutdown tells all other front ends too, and ends the session.
func afterShutdown(r *request) {
	r.s.publish("shutdown_reply", r.msg, shutdownReply{"ok", r.restart}, nil)
	r.s.shutDown(r.restart)
}
