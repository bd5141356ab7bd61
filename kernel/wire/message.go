package wire

import (
	"bytes"
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"time"
)

// Version is the version of the messaging protocol that headers carry.
const Version = "5.4"

// delimiter ends the routing identities.
const delimiter = "<IDS|MSG>"

// dateLayout is ISO 8601 in UTC with microseconds, as jupyter_client writes it.
const dateLayout = "2006-01-02T15:04:05.000000Z"

// Date formats t as messages carry it.
func Date(t time.Time) string { return t.UTC().Format(dateLayout) }

// ErrFrames says that frames do not form a message.
var ErrFrames = errors.New("not a Jupyter message")

// Header identifies a message.
type Header struct {
	MsgID    string `json:"msg_id"`
	Session  string `json:"session"`
	Username string `json:"username"`
	Date     string `json:"date"`
	MsgType  string `json:"msg_type"`
	Version  string `json:"version"`
}

// Message is one Jupyter message. The dictionaries hold the bytes that
// travelled: a reply must carry its request's header unchanged.
type Message struct {
	// Identities route a reply to the peer that asked; on iopub the first one
	// is the topic.
	Identities [][]byte
	// Header is decoded from RawHeader.
	Header       Header
	RawHeader    json.RawMessage
	ParentHeader json.RawMessage
	Metadata     json.RawMessage
	Content      json.RawMessage
	Buffers      [][]byte
}

// Decode checks the frames' shape, signature and JSON and returns the message.
// The result shares memory with frames. Errors wrap ErrFrames, ErrSignature or
// ErrReplay; such a message is to be dropped.
func Decode(frames [][]byte, s *Signer) (*Message, error) {
	i := 0
	for i < len(frames) && string(frames[i]) != delimiter {
		i++
	}
	if len(frames) < i+6 {
		return nil, fmt.Errorf("%w: %d frames, %d of them before the delimiter", ErrFrames, len(frames), i)
	}
	dicts := frames[i+2 : i+6]
	if err := s.Check(frames[i+1], dicts...); err != nil {
		return nil, err
	}
	for j, name := range []string{"header", "parent header", "metadata", "content"} {
		if d := bytes.TrimLeft(dicts[j], " \t\r\n"); len(d) == 0 || d[0] != '{' || !json.Valid(d) {
			return nil, fmt.Errorf("%w: its %s is not a JSON object", ErrFrames, name)
		}
	}
	m := &Message{
		Identities: frames[:i], RawHeader: dicts[0], ParentHeader: dicts[1],
		Metadata: dicts[2], Content: dicts[3], Buffers: frames[i+6:],
	}
	if err := json.Unmarshal(m.RawHeader, &m.Header); err != nil {
		return nil, fmt.Errorf("%w: header: %v", ErrFrames, err)
	}
	if m.Header.MsgType == "" {
		return nil, fmt.Errorf("%w: its header names no msg_type", ErrFrames)
	}
	return m, nil
}

// New returns a message of the given type from session in answer to parent
// (nil: to nothing), with the identities of parent. Content and metadata are
// encoded as JSON, by themselves if they are [Appender]s; nil metadata becomes {}. The error says that JSON cannot
// express the content.
func New(session, msgType string, parent *Message, content, metadata any) (*Message, error) {
	m := &Message{
		Header: Header{
			MsgID: ID(), Session: session, Username: "rotorhum", Date: Date(time.Now()),
			MsgType: msgType, Version: Version,
		},
		ParentHeader: json.RawMessage("{}"), Metadata: json.RawMessage("{}"),
	}
	if parent != nil {
		m.ParentHeader, m.Identities = parent.RawHeader, parent.Identities
	}
	var err error
	if m.RawHeader, err = marshal(m.Header); err != nil {
		return nil, err
	}
	if m.Content, err = marshal(content); err != nil {
		return nil, fmt.Errorf("%s content: %w", msgType, err)
	}
	if metadata != nil {
		if m.Metadata, err = marshal(metadata); err != nil {
			return nil, fmt.Errorf("%s metadata: %w", msgType, err)
		}
	}
	return m, nil
}

// Encode returns the frames of m, signed.
func Encode(m *Message, s *Signer) [][]byte {
	frames := make([][]byte, 0, len(m.Identities)+6+len(m.Buffers))
	frames = append(frames, m.Identities...)
	frames = append(frames, []byte(delimiter),
		s.Sign(m.RawHeader, m.ParentHeader, m.Metadata, m.Content),
		m.RawHeader, m.ParentHeader, m.Metadata, m.Content)
	return append(frames, m.Buffers...)
}

// ID returns a new random identifier of 32 hexadecimal digits.
func ID() string {
	var b [16]byte
	rand.Read(b[:]) // never fails, says crypto/rand
	return hex.EncodeToString(b[:])
}
