package wire

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"slices"
	"sync"
	"time"

	"github.com/go-zeromq/zmq4"
	"github.com/go-zeromq/zmq4/transport"
)

const (
	handshakeTime = 10 * time.Second       // for a peer to introduce itself
	joinTime      = 100 * time.Millisecond // for a subscriber to say to what
)

// The guard's transports, by which the library reaches our listener.
const (
	tcpScheme  = "rotorhum-tcp"
	unixScheme = "rotorhum-unix"
)

func init() {
	for scheme, network := range map[string]string{tcpScheme: "tcp", unixScheme: "unix"} {
		if err := zmq4.RegisterTransport(scheme, guarded{transport.New(network), network}); err != nil {
			panic(err)
		}
	}
}

type guarded struct {
	transport.Transport
	network string
}

// listenerKey finds the listener in a socket's context: the library offers no
// other way to tell a transport for which socket it works.
type listenerKey struct{}

func (g guarded) Listen(ctx context.Context, addr string) (net.Listener, error) {
	l, ok := ctx.Value(listenerKey{}).(*listener)
	if !ok {
		return nil, errors.New("wire: a guarded transport serves only sockets of this package")
	}
	return l, l.open(g.network, addr)
}

// listener accepts peers for one socket. A peer is handed to the library only
// when it has introduced itself properly, so that one which does not delays
// nobody and cannot upset the library.
type listener struct {
	net.Listener
	kind   zmq4.SocketType
	log    *slog.Logger
	limit  int
	marker []byte // for a PUB socket: the body of the message that ends flush

	handed chan net.Conn
	done   chan struct{}
	once   sync.Once

	mu      sync.Mutex
	changed *sync.Cond
	peers   map[*peer]struct{}
	joining int  // subscribers whose subscription may be on its way
	joined  bool // there has been a subscriber
}

func newListener(kind zmq4.SocketType, log *slog.Logger) *listener {
	l := &listener{kind: kind, log: log, limit: backlogLimit,
		handed: make(chan net.Conn), done: make(chan struct{}), peers: map[*peer]struct{}{}}
	l.changed = sync.NewCond(&l.mu)
	if kind == zmq4.Pub {
		l.marker = []byte("flush " + ID())
	}
	return l
}

func (l *listener) open(network, addr string) error {
	if network == "unix" {
		removeStale(addr)
	}
	inner, err := net.Listen(network, addr)
	if err != nil {
		return err
	}
	if network == "unix" { // only the user may connect
		if err := os.Chmod(addr, 0o600); err != nil {
			inner.Close()
			return err
		}
	}
	l.Listener = inner
	go l.serve()
	return nil
}

// removeStale removes a socket file that a killed kernel left behind: one that
// nobody listens on.
func removeStale(path string) {
	info, err := os.Lstat(path)
	if err != nil || info.Mode()&os.ModeSocket == 0 {
		return
	}
	if c, err := net.Dial("unix", path); err == nil {
		c.Close()
		return
	}
	os.Remove(path)
}

func (l *listener) serve() {
	for {
		c, err := l.Listener.Accept()
		if err == nil {
			go l.welcome(c)
			continue
		}
		if errors.Is(err, net.ErrClosed) {
			return
		}
		l.log.Warn("accept", "err", err) // such as too many open files: try again
		select {
		case <-l.done:
			return
		case <-time.After(50 * time.Millisecond):
		}
	}
}

// welcome goes through the handshake with a new connection and hands it on.
func (l *listener) welcome(c net.Conn) {
	settled := func() {}
	if l.kind == zmq4.Pub {
		l.count(+1)
		settled = sync.OnceFunc(func() { l.count(-1) })
		time.AfterFunc(joinTime, settled)
	}
	c.SetDeadline(time.Now().Add(handshakeTime))
	in := bufio.NewReader(c)
	socketType, identity, err := l.handshake(c, in)
	if err != nil {
		l.log.Debug("refused a peer", "reason", err)
		settled()
		c.Close()
		return
	}
	c.SetDeadline(time.Time{})
	p := newPeer(c, in, socketType, identity, l.limit, l.log)
	if l.marker != nil {
		p.marker = appendFrame(nil, 0, l.marker)
	}
	p.joined = func() {
		l.mu.Lock()
		l.joined = true
		l.mu.Unlock()
		settled()
	}
	p.left = func() {
		settled()
		l.mu.Lock()
		delete(l.peers, p)
		l.changed.Broadcast()
		l.mu.Unlock()
	}
	l.mu.Lock()
	l.peers[p] = struct{}{}
	l.mu.Unlock()
	select {
	case l.handed <- p:
	case <-l.done:
		p.Close()
	}
}

func (l *listener) handshake(c net.Conn, in *bufio.Reader) (socketType, identity string, err error) {
	if _, err := c.Write(greeting()); err != nil {
		return "", "", err
	}
	var g [greetingSize]byte
	if _, err := io.ReadFull(in, g[:]); err != nil {
		return "", "", err
	}
	if err := checkGreeting(g[:]); err != nil {
		return "", "", err
	}
	head, err := in.Peek(2)
	if err == nil && head[0]&flagLong != 0 {
		head, err = in.Peek(9)
	}
	if err != nil {
		return "", "", err
	}
	h, err := parseHead(head)
	if err != nil {
		return "", "", err
	}
	if h.flags&flagCommand == 0 || h.size > readyLimit {
		return "", "", fmt.Errorf("%w: no READY command", errZMTP)
	}
	in.Discard(h.len)
	body := make([]byte, h.size)
	if _, err := io.ReadFull(in, body); err != nil {
		return "", "", err
	}
	socketType, identity, err = parseReady(body)
	if err != nil {
		return "", "", err
	}
	partners := map[zmq4.SocketType][]string{
		zmq4.Router: {"DEALER", "REQ", "ROUTER"},
		zmq4.Pub:    {"SUB", "XSUB"},
	}[l.kind]
	if !slices.Contains(partners, socketType) {
		return "", "", fmt.Errorf("%w: a %s socket cannot talk to %q", errZMTP, l.kind, socketType)
	}
	return socketType, identity, nil
}

func (l *listener) count(d int) {
	l.mu.Lock()
	l.joining += d
	l.changed.Broadcast()
	l.mu.Unlock()
}

// settle waits until no subscription is on its way; if there has never been a
// subscriber it waits for the first, at most for patience.
func (l *listener) settle(patience time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	late := l.joined
	if !late {
		defer time.AfterFunc(patience, func() {
			l.mu.Lock()
			late = true
			l.changed.Broadcast()
			l.mu.Unlock()
		}).Stop()
	}
	for l.joining > 0 || !l.joined && !late {
		l.changed.Wait()
	}
}

// flush waits until every peer has been written all that was sent before the
// marker, at most until the deadline. The library's PUB socket sends from a
// queue of its own and does not say when that is empty; but it sends in order,
// and the guard swallows the marker: a peer that has seen it is up to date. (A
// peer that did not subscribe to everything never sees it; front ends do.)
func (l *listener) flush(deadline time.Time) {
	l.mu.Lock()
	peers := make([]*peer, 0, len(l.peers))
	for p := range l.peers {
		peers = append(peers, p)
	}
	l.mu.Unlock()
	for _, p := range peers {
		stop := time.AfterFunc(time.Until(deadline), func() {
			p.mu.Lock()
			p.flushed = true
			p.idle.Broadcast()
			p.mu.Unlock()
		})
		p.mu.Lock()
		for p.all && !p.flushed && !p.closed {
			p.idle.Wait()
		}
		p.mu.Unlock()
		stop.Stop()
		p.drain(deadline)
	}
}

// Accept returns the next peer that has introduced itself.
func (l *listener) Accept() (net.Conn, error) {
	select {
	case c := <-l.handed:
		return c, nil
	case <-l.done:
		return nil, net.ErrClosed
	}
}

// Close stops listening; for ipc it removes the socket file.
func (l *listener) Close() error {
	l.once.Do(func() { close(l.done) })
	return l.Listener.Close()
}
