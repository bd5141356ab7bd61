package wire

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"log/slog"
	"net"
	"path/filepath"
	"testing"
	"time"

	"github.com/go-zeromq/zmq4"
)

// patience bounds what would hang for ever if the code under test were wrong.
const patience = 20 * time.Second

// eachTransport runs a test over tcp and over ipc.
func eachTransport(t *testing.T, f func(t *testing.T, network, addr string)) {
	t.Run("tcp", func(t *testing.T) { f(t, "tcp", freeTCP(t)) })
	t.Run("ipc", func(t *testing.T) { f(t, "unix", filepath.Join(t.TempDir(), "s")) })
}

func freeTCP(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

func open(t *testing.T, kind zmq4.SocketType, network, addr string) *Socket {
	t.Helper()
	s, err := listen(kind, network, addr, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.close(time.Now()) })
	return s
}

// echo answers every message on s with itself.
func echo(s *Socket) {
	for {
		m, err := s.Recv()
		if err != nil {
			return
		}
		s.Send(m)
	}
}

// dial connects a socket of the library without the guard.
func dial(t *testing.T, s zmq4.Socket, network, addr string) zmq4.Socket {
	t.Helper()
	scheme := "tcp://"
	if network == "unix" {
		scheme = "ipc://"
	}
	if err := s.Dial(scheme + addr); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func bounded(t *testing.T) context.Context {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	t.Cleanup(cancel)
	return ctx
}

// served checks that a new client is answered.
func served(t *testing.T, network, addr string) {
	t.Helper()
	c := dial(t, zmq4.NewDealer(bounded(t)), network, addr)
	want := "still there?"
	if err := c.Send(zmq4.NewMsgString(want)); err != nil {
		t.Fatal(err)
	}
	m, err := c.Recv()
	if err != nil || len(m.Frames) != 1 || string(m.Frames[0]) != want {
		t.Fatalf("a healthy client got %q, %v; want %q", m.Frames, err, want)
	}
}

// rawPeer speaks ZMTP byte by byte.
type rawPeer struct {
	net.Conn
	in *bufio.Reader
}

func rawDial(t *testing.T, network, addr string) rawPeer {
	t.Helper()
	c, err := net.Dial(network, addr)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	c.SetReadDeadline(time.Now().Add(patience))
	return rawPeer{c, bufio.NewReader(c)}
}

// introduce goes through the handshake as a socket of the given type.
func (p rawPeer) introduce(t *testing.T, socketType string) {
	t.Helper()
	p.Write(greeting())
	p.Write(readyFrame(socketType, ""))
	if _, err := p.in.Discard(greetingSize); err != nil {
		t.Fatal(err)
	}
	if _, _, err := p.frame(); err != nil { // its READY
		t.Fatal(err)
	}
}

func (p rawPeer) frame() (flags byte, body []byte, err error) {
	var b []byte
	for {
		c, err := p.in.ReadByte()
		if err != nil {
			return 0, nil, err
		}
		b = append(b, c)
		h, err := parseHead(b)
		if err != nil {
			return 0, nil, err
		}
		if h.len > 0 {
			body = make([]byte, h.size)
			_, err = io.ReadFull(p.in, body)
			return h.flags, body, err
		}
	}
}

// subscribed waits until s knows n subscribers.
func subscribed(t *testing.T, s *Socket, n int) {
	t.Helper()
	for end := time.Now().Add(patience); ; time.Sleep(time.Millisecond) {
		s.l.mu.Lock()
		got := 0
		for p := range s.l.peers {
			p.mu.Lock()
			if p.all {
				got++
			}
			p.mu.Unlock()
		}
		joining := s.l.joining
		s.l.mu.Unlock()
		if got == n && joining == 0 {
			return
		}
		if time.Now().After(end) {
			t.Fatalf("%d subscribers after %v, want %d", got, patience, n)
		}
	}
}

func numbered(i, size int) []byte {
	return fmt.Appendf(make([]byte, 0, size+8), "%08d", i)[:max(8, size)]
}
