package wire

import (
	"bufio"
	"bytes"
	"log/slog"
	"net"
	"sync"
	"syscall"
	"time"
)

const (
	// frameLimit bounds a frame that a peer may announce. Requests are small;
	// the largest are comm buffers.
	frameLimit = 256 << 20
	// backlogLimit bounds the bytes queued for a peer that does not read; then
	// it is cut off. A single message may always be queued.
	backlogLimit = 128 << 20
)

// peer is the guarded connection to one front end. The library reads and writes
// through it: what it reads has been checked, and its writes never block.
type peer struct {
	net.Conn
	log    *slog.Logger
	limit  int    // backlog limit in bytes
	marker []byte // the message that is swallowed and ends flush, see listener.flush
	left   func() // called once when the peer has gone
	joined func() // called once when its first subscription is in force
	raw    syscall.RawConn

	// Reading; only the library's reader of this connection comes here.
	in     *bufio.Reader
	ready  []byte // checked bytes to hand out first: greeting, READY, frame heads
	body   uint64 // bytes to pass through until the next frame head
	frames int    // frames handed out

	// Writing by the library, one call at a time.
	skip int // bytes of the library's own greeting still to swallow: ours is sent
	out  cutter

	mu      sync.Mutex
	idle    sync.Cond // signalled when the queue has been written, or the peer closed
	queue   [][]byte  // whole messages, one after the other, in pieces
	queued  int       // their bytes, those being written included
	writing bool
	closed  bool
	all     bool // subscribed to every topic
	flushed bool // the marker has come through
}

func newPeer(c net.Conn, in *bufio.Reader, socketType, identity string, limit int, log *slog.Logger) *peer {
	p := &peer{Conn: c, in: in, limit: limit, log: log, skip: greetingSize,
		ready: append(greeting(), readyFrame(socketType, identity)...)}
	p.idle.L = &p.mu
	if sc, ok := c.(syscall.Conn); ok {
		p.raw, _ = sc.SyscallConn()
	}
	return p
}

// Read hands out checked bytes. Every failure is net.ErrClosed: for another
// error the library would keep the dead connection.
func (p *peer) Read(b []byte) (int, error) {
	if len(p.ready) == 0 && p.body == 0 {
		if err := p.nextHead(); err != nil {
			p.log.Debug("peer gone", "reason", err)
			p.Close()
			return 0, net.ErrClosed
		}
	}
	if len(p.ready) > 0 {
		n := copy(b, p.ready)
		p.ready = p.ready[n:]
		return n, nil
	}
	n, err := p.in.Read(b[:min(uint64(len(b)), p.body)])
	p.body -= uint64(n)
	if err != nil && n == 0 {
		p.Close()
		return 0, net.ErrClosed
	}
	return n, nil
}

// nextHead reads the head of the next frame, answers commands itself, and notes
// subscriptions.
func (p *peer) nextHead() error {
	if p.frames > 0 && p.joined != nil { // the library has dealt with the frame before
		p.joined()
		p.joined = nil
	}
	for {
		b, err := p.in.Peek(2)
		if err == nil && b[0]&flagLong != 0 {
			b, err = p.in.Peek(9)
		}
		if err != nil {
			return err
		}
		h, err := parseHead(b)
		if err != nil {
			return err
		}
		limit := uint64(frameLimit)
		if h.flags&flagCommand != 0 {
			limit = readyLimit
		}
		if h.size > limit {
			return &net.AddrError{Err: "frame too large", Addr: p.RemoteAddr().String()}
		}
		if h.flags&flagCommand == 0 {
			p.ready, p.body = append([]byte{}, b[:h.len]...), h.size
			p.in.Discard(h.len)
			p.frames++
			if h.flags == 0 && h.size == 1 {
				if t, err := p.in.Peek(1); err == nil && t[0] <= 1 {
					p.mu.Lock()
					p.all = t[0] == 1
					p.mu.Unlock()
				}
			}
			return nil
		}
		p.in.Discard(h.len)
		command := make([]byte, h.size)
		for n := 0; n < len(command); {
			m, err := p.in.Read(command[n:])
			if err != nil {
				return err
			}
			n += m
		}
		if answer := pong(command); answer != nil {
			p.deliver([][]byte{answer})
		}
	}
}

// Write takes bytes of messages and never blocks. It keeps long ones: who sends
// a message gives its frames away.
func (p *peer) Write(b []byte) (int, error) {
	n := min(p.skip, len(b))
	p.skip -= n
	if err := p.out.feed(b[n:], p.deliver); err != nil {
		return 0, err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.closed {
		return 0, net.ErrClosed
	}
	return len(b), nil
}

// deliver sends one whole message: at once if the system takes it, else from a
// goroutine of its own.
func (p *peer) deliver(msg [][]byte) {
	size := total(msg)
	p.mu.Lock()
	defer p.mu.Unlock()
	switch {
	case p.closed:
		return
	case len(p.marker) > 0 && len(msg) == 1 && bytes.Equal(msg[0], p.marker):
		p.flushed = true
		p.idle.Broadcast()
		return
	case p.queued > 0 && p.queued+size > p.limit:
		p.log.Warn("cut off a front end that does not read", "backlog", p.queued)
		p.close()
		return
	}
	if !p.writing {
		rest := p.tryWrite(msg)
		if len(rest) == 0 {
			return
		}
		msg, size = rest, total(rest)
		p.writing = true
		go p.write()
	}
	p.queue = append(p.queue, msg...)
	p.queued += size
}

func total(pieces [][]byte) (n int) {
	for _, p := range pieces {
		n += len(p)
	}
	return n
}

// tryWrite writes what fits into the system's buffer and returns the rest.
func (p *peer) tryWrite(msg [][]byte) (rest [][]byte) {
	if p.raw == nil {
		return msg
	}
	p.raw.Write(func(fd uintptr) bool {
		for len(msg) > 0 {
			n, _ := syscall.Write(int(fd), msg[0])
			if n < len(msg[0]) {
				msg = append([][]byte{msg[0][max(n, 0):]}, msg[1:]...)
				break
			}
			msg = msg[1:]
		}
		return true
	})
	return msg
}

func (p *peer) write() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for len(p.queue) > 0 && !p.closed {
		batch := net.Buffers(p.queue)
		p.queue = nil
		p.mu.Unlock()
		n, err := batch.WriteTo(p.Conn)
		p.mu.Lock()
		p.queued -= int(n)
		if err != nil {
			p.close()
		}
	}
	p.writing = false
	p.idle.Broadcast()
}

// drain waits until everything delivered has been written, or the deadline has
// passed, or the peer has gone.
func (p *peer) drain(deadline time.Time) {
	p.Conn.SetWriteDeadline(deadline)
	p.mu.Lock()
	defer p.mu.Unlock()
	for p.writing && !p.closed {
		p.idle.Wait()
	}
}

// Close closes the connection at once.
func (p *peer) Close() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.close()
	return nil
}

func (p *peer) close() { // with p.mu held
	if p.closed {
		return
	}
	p.closed, p.queue = true, nil
	p.Conn.Close()
	p.idle.Broadcast()
	if p.left != nil {
		go p.left()
	}
}
