package session

import (
	"encoding/json"
	"errors"

	"rotorhum/kernel/wire"
)

type inputRequest struct {
	Prompt   string `json:"prompt"`
	Password bool   `json:"password"`
}

// question waits for the line that a person types.
type question struct {
	identity string // of the front end that was asked
	id       string // of the input_request
	answer   chan string
}

// errInterrupted ends a question that an interrupt came to before the answer.
var errInterrupted = errors.New("interrupted while waiting for input")

// ask asks the front end that sent request for a line.
func (s *Session) ask(request *wire.Message, run *running, prompt string, password bool) (string, error) {
	m, err := wire.New(s.id, "input_request", request, inputRequest{prompt, password}, nil)
	if err != nil {
		return "", err
	}
	q := &question{identity(request), m.Header.MsgID, make(chan string, 1)}
	s.mu.Lock()
	s.asked = q
	s.mu.Unlock()
	defer func() {
		s.mu.Lock()
		s.asked = nil
		s.mu.Unlock()
	}()
	if err := s.opt.Stdin.Send(wire.Encode(m, s.opt.Signer)); err != nil {
		return "", err
	}
	select {
	case line := <-q.answer:
		return line, nil
	case <-run.interrupted:
		return "", errInterrupted
	}
}

// answer takes an input_reply. It counts only if it comes from the front end
// that was asked and while the question waits; if it names the question that it
// answers (some clients do not) that must be this one.
func (s *Session) answer(m *wire.Message) {
	var c struct {
		Value *string `json:"value"`
	}
	var parent wire.Header
	json.Unmarshal(m.ParentHeader, &parent) // of any shape: then it names none
	if m.Header.MsgType != "input_reply" || json.Unmarshal(m.Content, &c) != nil || c.Value == nil {
		s.log.Warn("unknown message", "channel", "stdin", "type", m.Header.MsgType)
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.asked == nil || s.asked.identity != identity(m) || parent.MsgID != "" && parent.MsgID != s.asked.id {
		s.log.Warn("nobody waits for this input_reply")
		return
	}
	select {
	case s.asked.answer <- *c.Value:
	default: // answered twice
	}
}

func identity(m *wire.Message) string {
	if len(m.Identities) == 0 {
		return ""
	}
	return string(m.Identities[0])
}
