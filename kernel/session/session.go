package session

import (
	"fmt"
	"log/slog"
	"runtime/debug"
	"strings"
	"sync"
	"time"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/wire"
)

// Channel moves the frames of whole messages to and from front ends.
type Channel interface {
	// Recv waits for the next message; an error means that the channel has
	// been closed.
	Recv() ([][]byte, error)
	// Send queues a message without waiting for any front end.
	Send(frames [][]byte) error
}

// Publisher sends to every front end at once.
type Publisher interface {
	Send(frames [][]byte) error
	// Settle waits a moment for front ends whose subscription is on its way,
	// and at most for patience if there has been none yet.
	Settle(patience time.Duration)
}

// Options say what a session is made of.
type Options struct {
	Shell, Control, Stdin Channel
	IOPub                 Publisher
	Signer                *wire.Signer
	// Start makes the interpreter. It is called on the goroutine that then
	// makes every call but Interrupt. Requests that need no interpreter are
	// answered meanwhile.
	Start func() (cell.Runner, error)
	// About is what kernel_info tells.
	About About
	// History keeps the cells that were run; nil keeps those of this session
	// in memory.
	History *History
	// Targets accept the comms that front ends open, by target name.
	Targets map[string]Target
	// Log gets what happens to messages that cannot be answered; nil drops it.
	Log *slog.Logger
}

// subscriberPatience bounds how long the very first cell waits for a front end
// that has not yet subscribed to its output: libzmq tries again to connect
// after 100 to 200 ms.
const subscriberPatience = 250 * time.Millisecond

// startPatience bounds how long the kernel waits for somebody to announce its
// start to.
const startPatience = 2 * time.Second

// lastWords bounds how long a shutdown waits for the interrupted cell's reply.
const lastWords = 100 * time.Millisecond

// Session is one life of a kernel.
type Session struct {
	opt     Options
	log     *slog.Logger
	id      string // in the header of every message; clients know a restart by it
	history *History
	comms   comms
	clocks  clocks

	queue  queue        // shell requests that wait for their turn
	runner *runnerOwner // the interpreter's goroutine

	// Only the goroutine of shell requests uses these.
	count   int       // execution count of the last cell that counted
	abortAt time.Time // cells sent before this moment are aborted
	page    pageState // what the cells of the page show

	mu      sync.Mutex
	running *running  // the cell that runs, if any
	asked   *question // the question that waits for input_reply, if any

	begun   sync.Once // the kernel has been announced
	stop    sync.Once
	closing chan struct{} // closed by a shutdown
	restart bool          // set before closing is closed
}

// New returns a session that has not begun.
func New(opt Options) *Session {
	if opt.Log == nil {
		opt.Log = slog.New(slog.DiscardHandler)
	}
	if opt.History == nil {
		opt.History = NewHistory("", opt.Log)
	}
	s := &Session{opt: opt, log: opt.Log, id: wire.ID(), history: opt.History, closing: make(chan struct{})}
	s.comms.open = map[string]*Comm{}
	s.queue.init()
	return s
}

// Run serves front ends until one of them, or Stop, shuts the kernel down, and
// reports whether a restart was asked for. A cell that does not let go may
// still run then; the caller is expected to end the process.
func (s *Session) Run() (restart bool) {
	s.runner = startRunner(s.opt.Start, s.log)
	go func() { // there is nobody yet to tell
		s.opt.IOPub.Settle(startPatience)
		if !s.isClosing() {
			s.begun.Do(s.announce)
		}
	}()
	go s.receive("shell", s.opt.Shell, s.enqueue)
	go s.receive("control", s.opt.Control, func(m *wire.Message) { s.serve(&request{s: s, msg: m, channel: s.opt.Control, name: "control"}) })
	go s.receive("stdin", s.opt.Stdin, s.answer)
	served := make(chan struct{})
	go func() {
		defer close(served)
		for {
			r := s.queue.take()
			if r == nil {
				return
			}
			s.serve(r)
		}
	}()
	<-s.closing
	s.queue.close()
	s.Interrupt()
	select {
	case <-served:
		s.runner.stop()
	case <-time.After(lastWords):
	}
	s.history.Close()
	return s.restart
}

// announce says that the kernel starts.
func (s *Session) announce() { s.publish("status", nil, status{"starting"}, nil) }

// Stop ends Run as a shutdown request does.
func (s *Session) Stop() { s.shutDown(false) }

func (s *Session) shutDown(restart bool) {
	s.stop.Do(func() {
		s.restart = restart
		close(s.closing)
	})
}

func (s *Session) isClosing() bool {
	select {
	case <-s.closing:
		return true
	default:
		return false
	}
}

func (s *Session) receive(name string, c Channel, take func(*wire.Message)) {
	for {
		frames, err := c.Recv()
		if err != nil {
			s.shutDown(false)
			return
		}
		m, err := wire.Decode(frames, s.opt.Signer)
		if err != nil {
			s.log.Warn("dropped a message", "channel", name, "reason", err)
			continue
		}
		take(m)
	}
}

// enqueue puts a shell request in its place. A shutdown does not wait for the
// cell that runs, though it came on the channel that older clients use.
func (s *Session) enqueue(m *wire.Message) {
	r := &request{s: s, msg: m, channel: s.opt.Shell, name: "shell", arrived: time.Now()}
	r.sent = s.clocks.sent(m.Header, r.arrived)
	if m.Header.MsgType == "shutdown_request" {
		s.serve(r)
		return
	}
	s.queue.put(r)
}

// request is a message that is being answered.
type request struct {
	s             *Session
	msg           *wire.Message
	channel       Channel
	name          string    // of the channel
	arrived, sent time.Time // sent is the client's moment on our clock
	metadata      any       // of the reply
	replied       bool

	run     *running
	count   int  // execute: of this cell
	failed  bool // execute: the cells behind this one are to be aborted
	restart bool // shutdown: another kernel follows
}

// serve goes through the steps that every request goes through.
func (s *Session) serve(r *request) {
	patience := time.Duration(0)
	if r.msg.Header.MsgType == "execute_request" && r.name == "shell" {
		patience = subscriberPatience
		r.run = s.begin(r.msg) // whoever has seen "busy" may interrupt
		defer s.end(r.run)
	}
	s.opt.IOPub.Settle(patience)
	s.begun.Do(s.announce)
	s.publish("status", r.msg, status{"busy"}, nil)
	defer s.publish("status", r.msg, status{"idle"}, nil)
	route, known := routes()[r.msg.Header.MsgType]
	if !known || !strings.Contains(route.channels, r.name) {
		s.log.Warn("unknown message", "channel", r.name, "type", r.msg.Header.MsgType)
		return
	}
	defer func() {
		if p := recover(); p != nil {
			s.log.Error("panic while answering", "type", r.msg.Header.MsgType, "panic", p, "stack", string(debug.Stack()))
			if route.answered && !r.replied {
				r.reply(r.failure("KernelError", fmt.Sprintf("the kernel failed while it answered this request: %v; if it happens again, restart it", p)))
			}
		}
	}()
	content, err := route.handle(r)
	if err != nil {
		s.log.Warn("could not answer", "type", r.msg.Header.MsgType, "reason", err)
		content = r.failure("RequestError", err.Error())
	}
	if route.answered {
		r.reply(content)
	}
	if route.after != nil {
		route.after(r)
	}
}

// failure is the content of the reply if the request cannot be answered; that
// to a cell always counts.
func (r *request) failure(name, value string) any {
	f := failure(name, value)
	if r.msg.Header.MsgType == "execute_request" {
		return executeFailed{f, r.count, map[string]any{}, []page{}}
	}
	return f
}

// reply sends the answer to whoever asked.
func (r *request) reply(content any) {
	msgType := strings.TrimSuffix(r.msg.Header.MsgType, "_request") + "_reply"
	m, err := wire.New(r.s.id, msgType, r.msg, content, r.metadata)
	if err != nil {
		r.s.log.Error("reply", "err", err)
		m, _ = wire.New(r.s.id, msgType, r.msg, r.failure("KernelError", err.Error()), nil)
	}
	r.replied = true
	if err := r.channel.Send(wire.Encode(m, r.s.opt.Signer)); err != nil {
		r.s.log.Warn("reply", "err", err)
	}
}

// publish sends to every front end. It reports false if JSON cannot express the
// content.
func (s *Session) publish(msgType string, parent *wire.Message, content any, buffers [][]byte) bool {
	m, err := wire.New(s.id, msgType, parent, content, nil)
	if err != nil {
		s.log.Error("publish", "err", err)
		return false
	}
	m.Identities = [][]byte{[]byte("kernel." + s.id + "." + msgType)}
	m.Buffers = buffers
	if err := s.opt.IOPub.Send(wire.Encode(m, s.opt.Signer)); err != nil {
		s.log.Warn("publish", "err", err)
	}
	return true
}
