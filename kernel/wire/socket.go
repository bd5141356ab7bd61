package wire

import (
	"context"
	"fmt"
	"io"
	"log"
	"log/slog"
	"time"

	"github.com/go-zeromq/zmq4"
)

// Socket is one bound socket of a kernel. Send may be called by several
// goroutines at once, Recv by one.
type Socket struct {
	zmq zmq4.Socket
	l   *listener
}

// listen binds a socket of the given kind, Router or Pub.
func listen(kind zmq4.SocketType, network, addr string, logger *slog.Logger) (*Socket, error) {
	s := &Socket{l: newListener(kind, logger)}
	ctx := context.WithValue(context.Background(), listenerKey{}, s.l)
	quiet := zmq4.WithLogger(log.New(io.Discard, "", 0)) // the guard reports instead
	scheme := tcpScheme
	if network == "unix" {
		scheme = unixScheme
	}
	switch kind {
	case zmq4.Router:
		s.zmq = zmq4.NewRouter(ctx, quiet)
	case zmq4.Pub:
		s.zmq = zmq4.NewPub(ctx, quiet)
	default:
		panic("wire: no guard for a socket of kind " + string(kind))
	}
	if err := s.zmq.Listen(scheme + "://" + addr); err != nil {
		return nil, fmt.Errorf("cannot listen on %s %s: %w", network, addr, err)
	}
	return s, nil
}

// Recv returns the frames of the next message, the sender's routing identity
// first. It fails only when the socket is closed.
func (s *Socket) Recv() ([][]byte, error) {
	m, err := s.zmq.Recv()
	return m.Frames, err
}

// Send queues a message, whose frames must not be changed any more, and does not
// wait for any peer. On a router socket the
// first frame says to whom; a peer that has gone is no error.
func (s *Socket) Send(frames [][]byte) error {
	m := zmq4.NewMsgFrom(frames...)
	if s.l.kind == zmq4.Router {
		s.zmq.Send(m) // the only errors are those of peers that have gone
		return nil
	}
	return s.zmq.Send(m)
}

// Settle, on iopub, waits for subscribers that have connected and whose
// subscription is on its way, so that they miss nothing that is sent next. If
// nobody has subscribed yet at all it waits for the first one, at most for
// patience.
func (s *Socket) Settle(patience time.Duration) { s.l.settle(patience) }

// close writes what is queued, at most until the deadline, and closes.
func (s *Socket) close(deadline time.Time) error {
	if s.l.kind == zmq4.Pub {
		s.zmq.Send(zmq4.NewMsg(s.l.marker))
	}
	s.l.flush(deadline)
	err := s.zmq.Close()
	s.l.Close()
	return err
}
