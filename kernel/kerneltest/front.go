package kerneltest

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/session"
	"rotorhum/kernel/wire"
)

// Patience bounds every wait for a message: what takes longer never comes.
const Patience = 20 * time.Second

// pipe is one direction of an unbounded channel of frames in memory.
type pipe struct {
	mu     sync.Mutex
	more   *sync.Cond
	queue  [][][]byte
	closed bool
	idle   bool // the reader has dealt with all that was sent, and waits
}

func newPipe() *pipe {
	p := &pipe{}
	p.more = sync.NewCond(&p.mu)
	return p
}

func (p *pipe) Send(frames [][]byte) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	copied := make([][]byte, len(frames))
	for i, f := range frames {
		copied[i] = slices.Clone(f)
	}
	p.queue = append(p.queue, copied)
	p.more.Broadcast()
	return nil
}

func (p *pipe) Recv() ([][]byte, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for len(p.queue) == 0 && !p.closed {
		p.idle = true
		p.more.Broadcast()
		p.more.Wait()
	}
	p.idle = false
	if len(p.queue) == 0 {
		return nil, errors.New("closed")
	}
	m := p.queue[0]
	p.queue = p.queue[1:]
	return m, nil
}

// drain waits until the reader has dealt with all that was sent.
func (p *pipe) drain() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for !(p.idle && len(p.queue) == 0) && !p.closed {
		p.more.Wait()
	}
}

func (p *pipe) close() {
	p.mu.Lock()
	p.closed = true
	p.mu.Unlock()
	p.more.Broadcast()
}

// end is the kernel's end of a channel in both directions.
type end struct{ in, out *pipe }

func (e end) Recv() ([][]byte, error) { return e.in.Recv() }
func (e end) Send(f [][]byte) error   { return e.out.Send(f) }

type publisher struct{ out *pipe }

func (p publisher) Send(f [][]byte) error { return p.out.Send(f) }
func (publisher) Settle(time.Duration)    {}

// Message is a message from the kernel, with the channel it came on.
type Message struct {
	*wire.Message
	Channel string
	Parent  wire.Header
}

// Type returns the type of the message; for a status with the state, as in
// "status busy".
func (m Message) Type() string {
	if m.Header.MsgType == "status" {
		return "status " + m.Text("execution_state")
	}
	return m.Header.MsgType
}

// Field returns what the content holds under a path such as "data.text/plain",
// nil if there is nothing.
func (m Message) Field(path ...string) any {
	var v any
	if err := json.Unmarshal(m.Content, &v); err != nil {
		panic(err) // Check has seen that it is JSON
	}
	for _, name := range path {
		o, _ := v.(map[string]any)
		v = o[name]
	}
	return v
}

// Text returns the text under a path, "" if there is none.
func (m Message) Text(path ...string) string {
	s, _ := m.Field(path...).(string)
	return s
}

// Kernel is a session with the channels that front ends in memory speak over.
type Kernel struct {
	*session.Session
	// Ended gets what Run returned.
	Ended chan bool

	t      *testing.T
	signer *wire.Signer
	in     map[string]*pipe // to the kernel
	mu     sync.Mutex
	more   *sync.Cond
	got    []Message // in the order of arrival over all channels
}

// Start begins a session with the interpreter that start makes and what else opt
// holds; every message it sends is checked against the table of fields. The
// session ends with the test.
func Start(t *testing.T, opt session.Options, start func() (cell.Runner, error)) *Kernel {
	t.Helper()
	k := &Kernel{t: t, in: map[string]*pipe{}, Ended: make(chan bool, 1)}
	k.more = sync.NewCond(&k.mu)
	var err error
	if k.signer, err = wire.NewSigner("", "the key"); err != nil {
		t.Fatal(err)
	}
	out := map[string]*pipe{}
	var listening sync.WaitGroup
	for _, name := range []string{"shell", "control", "stdin", "iopub"} {
		from := newPipe()
		k.in[name], out[name] = newPipe(), from
		listening.Go(func() { k.listen(name, from) })
	}
	channel := func(name string) session.Channel { return end{k.in[name], out[name]} }
	opt.Shell, opt.Control, opt.Stdin = channel("shell"), channel("control"), channel("stdin")
	opt.IOPub = publisher{out["iopub"]}
	opt.Signer, opt.Start = k.signer, start
	k.Session = session.New(opt)
	ended := make(chan struct{})
	go func() {
		k.Ended <- k.Run()
		close(ended)
	}()
	t.Cleanup(func() {
		k.Stop()
		<-ended
		for name := range out {
			k.in[name].close()
			out[name].close()
		}
		listening.Wait()
	})
	return k
}

func (k *Kernel) listen(channel string, from *pipe) {
	checker, _ := wire.NewSigner("", "the key") // its own: it must not share the memory of signatures
	for {
		frames, err := from.Recv()
		if err != nil {
			return
		}
		m, err := wire.Decode(frames, checker)
		if err != nil {
			k.t.Errorf("the kernel sent on %s %q: %v", channel, frames, err)
			continue
		}
		for _, w := range Check(channel, m) {
			k.t.Error(w)
		}
		got := Message{Message: m, Channel: channel}
		json.Unmarshal(m.ParentHeader, &got.Parent)
		k.mu.Lock()
		k.got = append(k.got, got)
		k.mu.Unlock()
		k.more.Broadcast()
	}
}

// Front is one front end.
type Front struct {
	*Kernel
	// Metadata is sent with every message; nil is an empty object.
	Metadata any

	session string
}

// Front returns a new front end.
func (k *Kernel) Front(name string) *Front { return &Front{Kernel: k, session: name} }

// Send sends a message and returns its msg_id.
func (f *Front) Send(channel, msgType string, content any, buffers ...[]byte) string {
	f.t.Helper()
	m, err := wire.New(f.session, msgType, nil, content, f.Metadata)
	if err != nil {
		f.t.Fatal(err)
	}
	m.Identities = [][]byte{[]byte("route to " + f.session)}
	m.Buffers = buffers
	f.in[channel].Send(wire.Encode(m, f.signer))
	return m.Header.MsgID
}

// Raw sends frames as they are.
func (f *Front) Raw(channel string, frames ...[]byte) {
	f.in[channel].Send(append([][]byte{[]byte("route to " + f.session)}, frames...))
}

// Taken waits until the kernel has taken in all that was sent on a channel: it
// may be running still, or stand in the queue.
func (f *Front) Taken(channel string) { f.in[channel].drain() }

// Signed returns the frames of a message with these dictionaries, properly
// signed, without identities.
func (f *Front) Signed(header, parent, metadata, content string) [][]byte {
	d := [][]byte{[]byte(header), []byte(parent), []byte(metadata), []byte(content)}
	return append([][]byte{[]byte("<IDS|MSG>"), f.signer.Sign(d...)}, d...)
}

// Wait returns the first message for which match is true, of all that have
// come and will come.
func (k *Kernel) Wait(what string, match func(Message) bool) Message {
	k.t.Helper()
	late := false
	timer := time.AfterFunc(Patience, func() {
		k.mu.Lock()
		late = true
		k.mu.Unlock()
		k.more.Broadcast()
	})
	defer timer.Stop()
	k.mu.Lock()
	defer k.mu.Unlock()
	for seen := 0; ; {
		for ; seen < len(k.got); seen++ {
			if match(k.got[seen]) {
				return k.got[seen]
			}
		}
		if late {
			k.t.Fatalf("waited in vain for %s; came: %s", what, summary(k.got))
		}
		k.more.Wait()
	}
}

func summary(ms []Message) string {
	var b strings.Builder
	for _, m := range ms {
		fmt.Fprintf(&b, "\n\t%s %s to %.8s %.200s", m.Channel, m.Header.MsgType, m.Parent.MsgID, m.Content)
	}
	return b.String()
}

// Of returns everything that has come in answer to the request, on one channel.
func (k *Kernel) Of(id, channel string) []Message {
	k.mu.Lock()
	defer k.mu.Unlock()
	var of []Message
	for _, m := range k.got {
		if m.Parent.MsgID == id && m.Channel == channel {
			of = append(of, m)
		}
	}
	return of
}

// Answer is all that came of one request.
type Answer struct {
	ID    string
	Reply Message   // empty if the request has none
	IOPub []Message // busy and idle included
}

// Idle waits for the idle status of a request, and for its reply if it has one.
func (f *Front) Idle(id string, channel string, replied bool) Answer {
	f.t.Helper()
	a := Answer{ID: id}
	if replied {
		a.Reply = f.Wait("the reply to "+id, func(m Message) bool { return m.Channel == channel && m.Parent.MsgID == id })
		if to := string(a.Reply.Identities[0]); to != "route to "+f.session {
			f.t.Errorf("the reply went to %q", to)
		}
	}
	f.Wait("idle after "+id, func(m Message) bool { return m.Parent.MsgID == id && m.Type() == "status idle" })
	a.IOPub = f.Of(id, "iopub")
	if n := len(f.Of(id, channel)); replied && n != 1 {
		f.t.Errorf("%d replies to %s", n, id)
	}
	return a
}

// Ask sends a request on shell and waits for all that comes of it.
func (f *Front) Ask(msgType string, content any) Answer {
	f.t.Helper()
	return f.Idle(f.Send("shell", msgType, content), "shell", true)
}

// Run executes code with default settings but for those given.
func (f *Front) Run(code string, settings ...map[string]any) Answer {
	f.t.Helper()
	return f.Idle(f.Execute(code, settings...), "shell", true)
}

// Execute sends an execute_request and does not wait.
func (f *Front) Execute(code string, settings ...map[string]any) string {
	f.t.Helper()
	content := map[string]any{"code": code}
	for _, s := range settings {
		for name, v := range s {
			content[name] = v
		}
	}
	return f.Send("shell", "execute_request", content)
}

// Types lists the types of what was published, as Message.Type gives them.
func (a Answer) Types() []string {
	var types []string
	for _, m := range a.IOPub {
		types = append(types, m.Type())
	}
	return types
}

// Stream returns all text published on stdout or stderr.
func (a Answer) Stream(name string) string {
	var b strings.Builder
	for _, m := range a.IOPub {
		if m.Type() == "stream" && m.Text("name") == name {
			b.WriteString(m.Text("text"))
		}
	}
	return b.String()
}
