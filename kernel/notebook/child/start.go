package child

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"sync"
	"syscall"
	"time"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/notebook"
	"rotorhum/kernel/provenance"
)

// The file descriptors of the child's two pipes.
const (
	requestFD = 3
	eventFD   = 4
)

// Pipes returns the child's ends of the two pipes, for [Serve]. They exist only
// in a process that [Start] made.
func Pipes() (in io.Reader, out io.Writer) {
	// What a cell starts must not hold them open.
	syscall.CloseOnExec(requestFD)
	syscall.CloseOnExec(eventFD)
	return os.NewFile(requestFD, "requests"), os.NewFile(eventFD, "events")
}

// Session is a runner in a process of its own. It is a [notebook.Session].
// Apart from Interrupt and Kill, its methods must be called one at a time.
type Session struct {
	process  *exec.Cmd
	requests *os.File
	events   *os.File
	decoder  *json.Decoder
	sending  sync.Mutex
	said     tail
	ended    *cell.Fault // why nothing runs any more; nil while the child lives

	ending sync.Mutex
	reaped bool // guarded by ending
}

// Start starts the program argv in folder dir ("" is this process's own) and
// waits until its runner is ready. The program must call [Serve] on [Pipes].
func Start(dir string, argv ...string) (*Session, error) {
	theirIn, requests, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	events, theirOut, err := os.Pipe()
	if err != nil {
		theirIn.Close()
		requests.Close()
		return nil, err
	}
	s := &Session{process: exec.Command(argv[0], argv[1:]...), requests: requests, events: events}
	s.process.Dir = dir
	s.process.ExtraFiles = []*os.File{theirIn, theirOut}
	s.process.Stdout, s.process.Stderr = &s.said, &s.said
	// A group of its own: a Ctrl-C at the terminal is for the parent, which
	// interrupts the cell and still writes the notebook.
	s.process.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	s.process.WaitDelay = time.Second
	err = s.process.Start()
	theirIn.Close()
	theirOut.Close()
	if err != nil {
		requests.Close()
		events.Close()
		return nil, err
	}
	s.decoder = json.NewDecoder(events)
	s.decoder.UseNumber()
	first, ok := s.next()
	switch {
	case !ok:
		return nil, fmt.Errorf("the session did not start: %s", s.ended.Value)
	case first.Fault != nil:
		s.Close()
		return nil, errors.New(first.Fault.Value)
	}
	return s, nil
}

// Close ends the child and frees what it held. A cell that still runs is killed.
func (s *Session) Close() error {
	s.requests.Close() // the child ends when its requests do
	patience := time.AfterFunc(5*time.Second, s.Kill)
	defer patience.Stop()
	for alive := true; alive; {
		_, alive = s.next()
	}
	return s.events.Close()
}

// Kill ends the child at once, with everything it started.
func (s *Session) Kill() {
	s.ending.Lock()
	defer s.ending.Unlock()
	if !s.reaped {
		// The child leads its process group. The only error is that nobody is
		// left in it.
		_ = syscall.Kill(-s.process.Process.Pid, syscall.SIGKILL)
	}
}

// Interrupt implements [cell.Runner].
func (s *Session) Interrupt() { s.send(request{Op: "interrupt"}) }

func (s *Session) send(q request) {
	s.sending.Lock()
	defer s.sending.Unlock()
	// A child that is gone is noticed when its events end.
	_ = json.NewEncoder(s.requests).Encode(q)
}

// next reads one event; it reports false, and sets s.ended, when the child is gone.
func (s *Session) next() (event, bool) {
	var e event
	if s.ended == nil {
		if s.decoder.Decode(&e) == nil {
			return e, true
		}
		s.wait()
	}
	return event{}, false
}

// wait collects the child's end and says it in s.ended.
func (s *Session) wait() {
	s.Kill() // the child is ending; this ends what it started
	s.ending.Lock()
	s.reaped = true // from here on its number may be another process's
	s.ending.Unlock()
	how := "it exited with status 0"
	if err := s.process.Wait(); err != nil {
		how = "it ended with " + err.Error()
	}
	said := s.said.lines()
	value := "the cell's process is gone: " + how
	if len(said) > 0 {
		value += ": " + said[0]
	}
	s.ended = &cell.Fault{Name: notebook.FaultSessionEnded, Value: value,
		Traceback: append([]string{notebook.FaultSessionEnded + ": " + value}, said...)}
}

// do sends q and follows its events until it is done.
func (s *Session) do(q request, sink cell.Sink) event {
	if s.ended == nil {
		s.send(q)
	}
	for {
		e, ok := s.next()
		if !ok {
			return event{Fault: s.ended}
		}
		b := cell.Bundle{}
		if e.Bundle != nil {
			b = *e.Bundle
		}
		switch {
		case e.Kind == "done":
			return e
		case sink == nil:
		case e.Kind == "stream":
			sink.Stream(e.Name, e.Text)
		case e.Kind == "display":
			sink.Display(b, e.ID)
		case e.Kind == "update":
			sink.Update(b, e.ID)
		case e.Kind == "clear":
			sink.Clear(e.Wait)
		case e.Kind == "page":
			sink.Page(b)
		}
	}
}

// Run implements [cell.Runner]. Nobody can be asked for input. If the child
// ends, the fault is named [notebook.FaultSessionEnded] and carries its last
// words.
func (s *Session) Run(q cell.Request) cell.Outcome {
	e := s.do(request{Op: "run", Name: q.Name, ID: q.ID, Code: q.Code}, q.Sink)
	return cell.Outcome{Result: e.Bundle, Fault: e.Fault}
}

// Expr implements [cell.Runner].
func (s *Session) Expr(code string) (cell.Bundle, *cell.Fault) {
	e := s.do(request{Op: "expr", Code: code}, nil)
	if e.Bundle == nil {
		return cell.Bundle{}, e.Fault
	}
	return *e.Bundle, e.Fault
}

// Complete implements [cell.Runner].
func (s *Session) Complete(code string, pos int) cell.Completion {
	e := s.do(request{Op: "complete", Code: code, Pos: pos}, nil)
	if e.Completion == nil {
		return cell.Completion{Start: pos, End: pos}
	}
	return *e.Completion
}

// Inspect implements [cell.Runner].
func (s *Session) Inspect(code string, pos, detail int) (cell.Bundle, bool) {
	e := s.do(request{Op: "inspect", Code: code, Pos: pos, Detail: detail}, nil)
	if e.Bundle == nil {
		return cell.Bundle{}, false
	}
	return *e.Bundle, e.Found
}

// IsComplete implements [cell.Runner].
func (s *Session) IsComplete(code string) (status, indent string) {
	e := s.do(request{Op: "is_complete", Code: code}, nil)
	return e.Status, e.Indent
}

// Provenance returns where the results of the session came from so far. It is
// nil if the child is gone, or its runner keeps no record.
func (s *Session) Provenance() *provenance.Record {
	return s.do(request{Op: "provenance"}, nil).Provenance
}

// tail keeps the first part of what a process wrote outside its pipes: a crash
// of the Go runtime says first what happened.
type tail struct {
	mu   sync.Mutex
	text []byte
}

const tailBytes = 64 << 10

// Write implements [io.Writer]; it never fails.
func (t *tail) Write(p []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.text = append(t.text, p[:min(len(p), tailBytes-len(t.text))]...)
	return len(p), nil
}

// lines returns the first 20 lines that are not blank and come before the stack
// of a crash, whose addresses and paths differ from machine to machine.
func (t *tail) lines() []string {
	t.mu.Lock()
	defer t.mu.Unlock()
	var lines []string
	for line := range strings.Lines(string(t.text)) {
		line = strings.TrimRight(line, "\r\n")
		if len(lines) == 20 || strings.HasPrefix(line, "goroutine ") || line == "runtime stack:" {
			break
		}
		if line != "" {
			lines = append(lines, line)
		}
	}
	return lines
}
