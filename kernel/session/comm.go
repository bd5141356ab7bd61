package session

import (
	"encoding/json"
	"fmt"
	"sync"

	"rotorhum/kernel/wire"
)

// Target accepts a comm that a front end opens: it sets the comm's fields, and
// may already Send. An error refuses the comm.
type Target func(c *Comm, data json.RawMessage, buffers [][]byte) error

// Comm is an open line of messages to front ends, about something they share
// with the kernel. Its functions are called one at a time.
type Comm struct {
	// Message is called for each message from a front end; nil ignores them.
	Message func(data json.RawMessage, buffers [][]byte)
	// Closed is called when a front end has closed the comm; nil ignores it.
	Closed func(data json.RawMessage)

	id, target string
	s          *Session
	parent     *wire.Message // what the front end sent last
}

// comms are those that are open.
type comms struct {
	mu   sync.Mutex
	open map[string]*Comm
}

type commContent struct {
	ID     string          `json:"comm_id"`
	Target string          `json:"target_name,omitempty"`
	Data   json.RawMessage `json:"data"`
}

// Send sends data, which JSON must be able to express, and raw buffers.
func (c *Comm) Send(data any, buffers [][]byte) error { return c.say("comm_msg", data, buffers) }

// Close closes the comm from the kernel's side.
func (c *Comm) Close(data any) error {
	c.s.comms.mu.Lock()
	delete(c.s.comms.open, c.id)
	c.s.comms.mu.Unlock()
	return c.say("comm_close", data, nil)
}

func (c *Comm) say(msgType string, data any, buffers [][]byte) error {
	raw, err := json.Marshal(data)
	if err != nil {
		return fmt.Errorf("comm %s: %w", c.target, err)
	}
	c.s.comms.mu.Lock()
	parent := c.parent
	c.s.comms.mu.Unlock()
	c.s.publish(msgType, parent, commContent{ID: c.id, Data: raw}, buffers)
	return nil
}

func commOpen(r *request) (any, error) {
	var m commContent
	if err := decode(r, &m); err != nil {
		return nil, err
	}
	c := &Comm{id: m.ID, target: m.Target, s: r.s, parent: r.msg}
	accept, known := r.s.opt.Targets[m.Target]
	err := fmt.Errorf("no target %q", m.Target)
	if known {
		r.s.comms.mu.Lock()
		r.s.comms.open[m.ID] = c
		r.s.comms.mu.Unlock()
		err = accept(c, m.Data, r.msg.Buffers)
	}
	if err != nil { // the front end must not wait for one that nobody holds
		return nil, c.Close(map[string]string{"error": err.Error()})
	}
	return nil, nil
}

func commMsg(r *request) (any, error) {
	var m commContent
	if err := decode(r, &m); err != nil {
		return nil, err
	}
	if c := r.s.comms.get(m.ID, r.msg); c != nil && c.Message != nil {
		c.Message(m.Data, r.msg.Buffers)
	}
	return nil, nil
}

func commClose(r *request) (any, error) {
	var m commContent
	if err := decode(r, &m); err != nil {
		return nil, err
	}
	c := r.s.comms.get(m.ID, r.msg)
	if c == nil {
		return nil, nil
	}
	r.s.comms.mu.Lock()
	delete(r.s.comms.open, m.ID)
	r.s.comms.mu.Unlock()
	if c.Closed != nil {
		c.Closed(m.Data)
	}
	return nil, nil
}

// get returns the open comm, nil if there is none, and notes the message that
// its next ones answer.
func (cs *comms) get(id string, parent *wire.Message) *Comm {
	cs.mu.Lock()
	defer cs.mu.Unlock()
	c := cs.open[id]
	if c != nil {
		c.parent = parent
	}
	return c
}

type commInfoReply struct {
	Status string                `json:"status"`
	Comms  map[string]commTarget `json:"comms"`
}

type commTarget struct {
	Name string `json:"target_name"`
}

func commInfo(r *request) (any, error) {
	var c struct {
		Target string `json:"target_name"`
	}
	if err := decode(r, &c); err != nil {
		return nil, err
	}
	reply := commInfoReply{"ok", map[string]commTarget{}}
	r.s.comms.mu.Lock()
	defer r.s.comms.mu.Unlock()
	for id, open := range r.s.comms.open {
		if c.Target == "" || c.Target == open.target {
			reply.Comms[id] = commTarget{open.target}
		}
	}
	return reply, nil
}
