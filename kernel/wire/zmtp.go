package wire

import (
	"encoding/binary"
	"errors"
	"fmt"
	"strings"
)

// The pieces of ZMTP 3.0 that the guard reads itself, so that the library never
// sees an unchecked byte (ZeroMQ RFC 23, https://rfc.zeromq.org/spec/23/).

const (
	greetingSize = 64
	readyLimit   = 4096 // bytes of a first command; those of libzmq have under 60

	flagMore    = 1
	flagLong    = 2
	flagCommand = 4
)

var errZMTP = errors.New("not a ZMTP 3 peer")

// greeting is what both sides send first: signature, version 3.0, mechanism NULL.
func greeting() []byte {
	g := make([]byte, greetingSize)
	g[0], g[9], g[10] = 0xff, 0x7f, 3
	copy(g[12:], "NULL")
	return g
}

func checkGreeting(g []byte) error {
	switch {
	case len(g) != greetingSize || g[0] != 0xff || g[9] != 0x7f:
		return fmt.Errorf("%w: no signature", errZMTP)
	case g[10] < 3:
		return fmt.Errorf("%w: version %d.%d", errZMTP, g[10], g[11])
	case strings.TrimRight(string(g[12:32]), "\x00") != "NULL":
		return fmt.Errorf("%w: mechanism %q", errZMTP, g[12:32])
	}
	return nil
}

// frameHead is the decoded head of a frame.
type frameHead struct {
	flags byte
	size  uint64 // of the body
	len   int    // of the head itself
}

// parseHead decodes the head that b starts with; len is 0 if b is too short.
func parseHead(b []byte) (frameHead, error) {
	if len(b) < 2 {
		return frameHead{}, nil
	}
	h := frameHead{flags: b[0], size: uint64(b[1]), len: 2}
	if h.flags > flagMore|flagLong|flagCommand {
		return frameHead{}, fmt.Errorf("%w: reserved flags %#x", errZMTP, h.flags)
	}
	if h.flags&flagLong != 0 {
		if len(b) < 9 {
			return frameHead{}, nil
		}
		h.size, h.len = binary.BigEndian.Uint64(b[1:9]), 9
	}
	return h, nil
}

func appendFrame(b []byte, flags byte, body []byte) []byte {
	if len(body) > 255 {
		b = append(b, flags|flagLong)
		b = binary.BigEndian.AppendUint64(b, uint64(len(body)))
	} else {
		b = append(b, flags, byte(len(body)))
	}
	return append(b, body...)
}

const readyName = "\x05READY"

// parseReady returns the socket type and identity that a READY command states.
func parseReady(body []byte) (socketType, identity string, err error) {
	rest, ok := strings.CutPrefix(string(body), readyName)
	if !ok {
		return "", "", fmt.Errorf("%w: the first command is not READY", errZMTP)
	}
	for rest != "" {
		n := int(rest[0])
		if len(rest) < 1+n+4 {
			return "", "", fmt.Errorf("%w: READY is cut short", errZMTP)
		}
		name, size := rest[1:1+n], uint64(binary.BigEndian.Uint32([]byte(rest[1+n:1+n+4])))
		rest = rest[1+n+4:]
		if uint64(len(rest)) < size {
			return "", "", fmt.Errorf("%w: READY is cut short", errZMTP)
		}
		switch strings.ToLower(name) {
		case "socket-type":
			socketType = rest[:size]
		case "identity":
			identity = rest[:size]
		}
		rest = rest[size:]
	}
	if len(identity) > 255 {
		return "", "", fmt.Errorf("%w: an identity of %d bytes", errZMTP, len(identity))
	}
	return socketType, identity, nil
}

// readyFrame is the READY command that states the two properties.
func readyFrame(socketType, identity string) []byte {
	body := []byte(readyName)
	for _, p := range [][2]string{{"Socket-Type", socketType}, {"Identity", identity}} {
		body = append(append(body, byte(len(p[0]))), p[0]...)
		body = append(binary.BigEndian.AppendUint32(body, uint32(len(p[1]))), p[1]...)
	}
	return appendFrame(nil, flagCommand, body)
}

// pong returns the answer to body if body is a PING command, else nil.
func pong(body []byte) []byte {
	rest, ok := strings.CutPrefix(string(body), "\x04PING")
	if !ok || len(rest) < 2 {
		return nil
	}
	return appendFrame(nil, flagCommand, append([]byte("\x04PONG"), rest[2:]...)) // rest starts with a time to live
}

// keepSize is the size from which bytes are kept where they are, not copied.
const keepSize = 32 << 10

// cutter cuts a stream of frames into whole messages, however the stream is
// sliced. A command counts as a message.
type cutter struct {
	head  []byte // of the frame being read, while incomplete
	left  uint64 // bytes missing from its body
	flags byte
	msg   [][]byte // the message so far, heads included, in pieces
	own   bool     // the last piece may grow
}

// feed takes the next bytes and passes on every message they complete. Long
// pieces of the messages share memory with b.
func (c *cutter) feed(b []byte, done func(msg [][]byte)) error {
	for len(b) > 0 {
		if c.left == 0 { // at a head
			c.head, b = append(c.head, b[0]), b[1:]
			h, err := parseHead(c.head)
			if err != nil {
				return err
			}
			if h.len == 0 {
				continue
			}
			c.add(c.head)
			c.head, c.left, c.flags = c.head[:0], h.size, h.flags
		}
		n := min(c.left, uint64(len(b)))
		c.add(b[:n])
		b, c.left = b[n:], c.left-n
		if c.left == 0 && c.flags&flagMore == 0 {
			done(c.msg)
			c.msg, c.own = nil, false
		}
	}
	return nil
}

func (c *cutter) add(b []byte) {
	switch {
	case len(b) >= keepSize:
		c.msg, c.own = append(c.msg, b), false
	case c.own:
		last := len(c.msg) - 1
		c.msg[last] = append(c.msg[last], b...)
	default:
		c.msg, c.own = append(c.msg, append(make([]byte, 0, 1024), b...)), true
	}
}
