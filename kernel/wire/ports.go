package wire

import (
	"errors"
	"log/slog"
	"sync"
	"time"

	"github.com/go-zeromq/zmq4"
)

// lingerTime bounds how long Close waits for front ends to take what is queued.
const lingerTime = 300 * time.Millisecond

// Ports are the sockets of a kernel. The heartbeat is answered without further
// ado, also while a cell runs.
type Ports struct {
	Shell, Control, Stdin, IOPub *Socket

	heartbeat *Socket
}

// Bind opens the sockets that c names, all or none.
func Bind(c Connection, log *slog.Logger) (*Ports, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	p := &Ports{}
	for _, want := range []struct {
		socket **Socket
		kind   zmq4.SocketType
		port   int
	}{
		{&p.Shell, zmq4.Router, c.Shell}, {&p.Control, zmq4.Router, c.Control}, {&p.Stdin, zmq4.Router, c.Stdin},
		{&p.IOPub, zmq4.Pub, c.IOPub}, {&p.heartbeat, zmq4.Router, c.HB},
	} {
		network, addr := c.address(want.port)
		s, err := listen(want.kind, network, addr, log)
		if err != nil {
			p.Close()
			return nil, err
		}
		*want.socket = s
	}
	go func() { // a router echoes as well as a REP socket, and to several at once
		for {
			frames, err := p.heartbeat.Recv()
			if err != nil {
				return
			}
			p.heartbeat.Send(frames)
		}
	}()
	return p, nil
}

// Close sends what is queued, waiting a moment for front ends that are slow to
// take it, closes the sockets and removes the files of ipc.
func (p *Ports) Close() error {
	deadline := time.Now().Add(lingerTime)
	var wait sync.WaitGroup
	sockets := []*Socket{p.Shell, p.Control, p.Stdin, p.IOPub, p.heartbeat}
	errs := make([]error, len(sockets))
	for i, s := range sockets {
		if s != nil {
			wait.Go(func() { errs[i] = s.close(deadline) })
		}
	}
	wait.Wait()
	return errors.Join(errs...)
}
