package interp

import (
	"errors"
	"fmt"
	"log"
	"os"
	"sync"
	"syscall"
	"time"
	"unicode/utf8"

	"rotorhum/kernel/cell"
)

// Limits of the captured output.
const (
	flushFirst = 4 * time.Millisecond // of a cell
	flushEvery = 30 * time.Millisecond
	flushBytes = 64 << 10
	pipeBytes  = 1 << 20 // asked for; the system may grant less
)

// capture stands in for os.Stdout and os.Stderr while the interpreter lives.
// What compiled code writes there comes through two pipes; what a cell prints
// itself is handed over directly. Both wait in one buffer for each stream, and
// reach the sink of the running cell in the order of writing, in pieces of at
// most about flushBytes, after at most flushEvery, the first of a cell after
// flushFirst.
//
// Bytes leave a pipe only under the lock. So whoever holds it can bring the
// buffers up to date, and knows then that nothing written before is missing.
type capture struct {
	mu    sync.Mutex // guards all below and every Sink call
	sink  cell.Sink
	limit int  // bytes a cell may print
	left  int  // of them, what the running cell may still print
	muted bool // it has printed them all
	timer *time.Timer
	armed bool // the timer will fire
	fresh bool // the running cell has printed nothing yet
	buf   []byte

	out, err       *stream
	oldOut, oldErr *os.File
}

// stream is one captured stream.
type stream struct {
	name string
	w, r *os.File
	fd   int32 // of r
	held []byte
	done chan struct{}
}

func newCapture(limit int) (*capture, error) {
	c := &capture{limit: limit, left: limit, oldOut: os.Stdout, oldErr: os.Stderr, buf: make([]byte, flushBytes)}
	var err error
	if c.out, err = newStream("stdout"); err != nil {
		return nil, err
	}
	if c.err, err = newStream("stderr"); err != nil {
		c.out.close()
		return nil, err
	}
	c.timer = time.AfterFunc(time.Hour, c.overdue)
	c.timer.Stop()
	go c.watch(c.out)
	go c.watch(c.err)
	c.install()
	return c, nil
}

func newStream(name string) (*stream, error) {
	r, w, err := os.Pipe()
	if err != nil {
		return nil, fmt.Errorf("cannot capture %s: %w", name, err)
	}
	s := &stream{name: name, r: r, w: w, done: make(chan struct{})}
	conn, err := r.SyscallConn()
	if err == nil {
		err = conn.Control(func(fd uintptr) {
			const setPipeSize = 1031 // F_SETPIPE_SZ of fcntl(2), Linux
			syscall.Syscall(syscall.SYS_FCNTL, fd, setPipeSize, pipeBytes)
			s.fd = int32(fd)
		})
	}
	if err != nil {
		s.close()
		return nil, fmt.Errorf("cannot capture %s: %w", name, err)
	}
	return s, nil
}

func (s *stream) close() {
	s.w.Close()
	s.r.Close()
}

// install makes the pipes the program's standard streams. Only the Go
// variables change: a crash of the runtime still reaches the real stderr.
func (c *capture) install() {
	os.Stdout, os.Stderr = c.out.w, c.err.w
	log.SetOutput(c.err.w)
}

// installed reports whether this capture owns the standard streams.
func (c *capture) installed() bool { return os.Stdout == c.out.w && os.Stderr == c.err.w }

// close gives the standard streams back and ends the watchers.
func (c *capture) close() {
	c.flush()
	if c.installed() {
		os.Stdout, os.Stderr = c.oldOut, c.oldErr
		log.SetOutput(c.oldErr)
	}
	c.out.w.Close()
	c.err.w.Close()
	<-c.out.done
	<-c.err.done
	c.out.r.Close()
	c.err.r.Close()
	c.timer.Stop()
}

// begin directs output to the sink of a new cell.
func (c *capture) begin(s cell.Sink) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.drain()
	c.emitAll(true)
	c.sink, c.left, c.muted, c.fresh = s, c.limit, false, true
}

// show calls f with the sink after everything printed so far has reached it.
func (c *capture) show(f func(cell.Sink)) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.drain()
	c.emitAll(true)
	if c.sink != nil {
		f(c.sink)
	}
}

// flush returns when everything printed so far has reached the sink.
func (c *capture) flush() { c.show(func(cell.Sink) {}) }

// write prints to one of the streams.
func (c *capture) write(s *stream, text []byte) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.waiting() {
		c.drain()
	}
	c.add(s, text)
}

// drain moves what the pipes hold into the buffers.
func (c *capture) drain() {
	for _, s := range []*stream{c.out, c.err} {
		for c.readOnce(s) > 0 {
		}
	}
}

// readOnce moves what one read gives; it returns 0 if there is nothing, and a
// negative number at the end.
func (c *capture) readOnce(s *stream) int {
	for {
		n, err := syscall.Read(int(s.fd), c.buf)
		switch {
		case err == syscall.EINTR:
			continue
		case err == syscall.EAGAIN:
			return 0
		case err != nil || n == 0:
			return -1
		}
		c.add(s, c.buf[:n])
		return n
	}
}

// add appends to a buffer. What the other one holds was written before.
func (c *capture) add(s *stream, text []byte) {
	other := c.out
	if s == c.out {
		other = c.err
	}
	if len(other.held) > 0 {
		c.emit(other, true)
	}
	if len(s.held) == 0 && len(text) >= flushBytes { // no need to gather
		n := len(text) - cutRune(text)
		c.hand(s, string(text[:n]))
		if text = text[n:]; len(text) == 0 {
			return
		}
	}
	if len(s.held) == 0 && !c.armed {
		c.armed = true
		wait := flushEvery
		if c.fresh {
			wait, c.fresh = flushFirst, false
		}
		c.timer.Reset(wait)
	}
	s.held = append(s.held, text...)
	if len(s.held) >= flushBytes {
		c.emit(s, false)
	}
}

// overdue hands on what has waited long enough.
func (c *capture) overdue() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.armed = false
	c.emitAll(false)
	if len(c.out.held)+len(c.err.held) > 0 { // half a character
		c.armed = true
		c.timer.Reset(flushEvery)
	}
}

// watch waits for compiled code to write into a pipe.
func (c *capture) watch(s *stream) {
	defer close(s.done)
	conn, err := s.r.SyscallConn()
	if err != nil {
		return
	}
	ended := false
	err = conn.Read(func(uintptr) bool {
		c.mu.Lock()
		defer c.mu.Unlock()
		n := 1
		for n > 0 {
			n = c.readOnce(s)
		}
		ended = n < 0
		return ended // false: wait for more
	})
	if err != nil && !errors.Is(err, os.ErrClosed) && !ended {
		fmt.Fprintf(c.oldErr, "capturing %s: %v\n", s.name, err)
	}
}

func (c *capture) emitAll(all bool) {
	c.emit(c.out, all)
	c.emit(c.err, all)
}

// emit hands what a buffer holds to the sink. A character that is cut in the
// middle stays behind unless all is set.
func (c *capture) emit(s *stream, all bool) {
	b := s.held
	if !all {
		b = b[:len(b)-cutRune(b)]
	}
	if len(b) == 0 {
		return
	}
	text := string(b)
	s.held = append(s.held[:0], s.held[len(b):]...)
	c.hand(s, text)
}

// hand passes text on to the sink, as far as the cell may still print.
func (c *capture) hand(s *stream, text string) {
	if c.sink == nil || c.muted {
		return
	}
	if len(text) > c.left {
		text = text[:c.left]
		c.muted = true
	}
	c.left -= len(text)
	if text != "" {
		c.sink.Stream(s.name, cell.ValidText(text))
	}
	if c.muted {
		c.sink.Stream("stderr", fmt.Sprintf("\n[output cut here: this cell printed more than %d bytes]\n", c.limit))
	}
}

// cutRune is the number of bytes at the end of b that begin a character whose
// rest has not been read yet.
func cutRune(b []byte) int {
	for n := 1; n <= utf8.UTFMax-1 && n <= len(b); n++ {
		c := b[len(b)-n]
		if utf8.RuneStart(c) {
			if c >= utf8.RuneSelf && !utf8.FullRune(b[len(b)-n:]) {
				return n
			}
			return 0
		}
	}
	return 0
}
