package interp

import (
	"bytes"
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"log"
	"os"
	"strings"
	"sync"
	"syscall"
	"time"
	"unicode/utf8"

	"rotorhum/kernel/cell"
)

// Limits of the captured output.
const (
	flushEvery = 30 * time.Millisecond
	flushBytes = 64 << 10
	pipeBytes  = 1 << 20 // asked for; the system may grant less
)

// capture stands in for os.Stdout and os.Stderr while the interpreter lives:
// two pipes, each with a reader that hands what was written to the sink of the
// running cell, in pieces of at most flushBytes or flushEvery.
type capture struct {
	mu    sync.Mutex // guards sink, left, muted and every Sink call
	sink  cell.Sink
	left  int // bytes the cell may still print
	limit int
	muted bool

	out, err       *pipe
	oldOut, oldErr *os.File
}

// pipe is one captured stream.
type pipe struct {
	name  string
	w, r  *os.File
	mark  []byte // a random line that no cell prints, written to ask for a flush
	acks  chan struct{}
	done  chan struct{}
	flush sync.Mutex // one flush at a time
}

func newCapture(limit int) (*capture, error) {
	c := &capture{limit: limit, left: limit, oldOut: os.Stdout, oldErr: os.Stderr}
	var err error
	if c.out, err = newPipe("stdout"); err != nil {
		return nil, err
	}
	if c.err, err = newPipe("stderr"); err != nil {
		c.out.close()
		return nil, err
	}
	go c.read(c.out)
	go c.read(c.err)
	c.install()
	return c, nil
}

func newPipe(name string) (*pipe, error) {
	r, w, err := os.Pipe()
	if err != nil {
		return nil, fmt.Errorf("cannot capture %s: %w", name, err)
	}
	const setPipeSize = 1031 // F_SETPIPE_SZ of fcntl(2), Linux
	if conn, err := w.SyscallConn(); err == nil {
		conn.Control(func(fd uintptr) {
			syscall.Syscall(syscall.SYS_FCNTL, fd, setPipeSize, pipeBytes)
		})
	}
	var seed [16]byte
	rand.Read(seed[:])
	return &pipe{
		name: name, r: r, w: w,
		mark: []byte("\x00" + hex.EncodeToString(seed[:]) + "\x00"),
		acks: make(chan struct{}, 1),
		done: make(chan struct{}),
	}, nil
}

func (p *pipe) close() {
	p.w.Close()
	p.r.Close()
}

// install makes the pipes the program's standard streams. Only the Go
// variables change: a crash of the runtime still reaches the real stderr.
func (c *capture) install() {
	os.Stdout, os.Stderr = c.out.w, c.err.w
	log.SetOutput(c.err.w)
}

// installed reports whether this capture owns the standard streams.
func (c *capture) installed() bool { return os.Stdout == c.out.w && os.Stderr == c.err.w }

// close gives the standard streams back and ends the readers.
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
}

// begin directs output to the sink of a new cell.
func (c *capture) begin(s cell.Sink) {
	c.mu.Lock()
	c.sink, c.left, c.muted = s, c.limit, false
	c.mu.Unlock()
}

// show calls f with the sink after everything printed so far has reached it.
func (c *capture) show(f func(cell.Sink)) {
	c.flush()
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.sink != nil {
		f(c.sink)
	}
}

// flush returns when everything printed so far has reached the sink.
func (c *capture) flush() {
	c.out.sync()
	c.err.sync()
}

func (p *pipe) sync() {
	p.flush.Lock()
	defer p.flush.Unlock()
	if _, err := p.w.Write(p.mark); err != nil {
		return
	}
	select {
	case <-p.acks:
	case <-p.done:
	}
}

// read is the reader of one stream.
func (c *capture) read(p *pipe) {
	defer close(p.done)
	var held []byte // read but not yet handed on
	buf := make([]byte, flushBytes)
	due := time.Time{} // when held must be handed on
	for {
		if len(held) > 0 {
			p.r.SetReadDeadline(due)
		} else {
			p.r.SetReadDeadline(time.Time{})
		}
		n, err := p.r.Read(buf)
		if n > 0 {
			if len(held) == 0 {
				due = time.Now().Add(flushEvery)
			}
			held = append(held, buf[:n]...)
			for {
				i := bytes.Index(held, p.mark)
				if i < 0 {
					break
				}
				c.emit(p.name, held[:i], true)
				held = append(held[:0], held[i+len(p.mark):]...)
				p.acks <- struct{}{}
			}
		}
		if len(held) >= flushBytes || (len(held) > 0 && !time.Now().Before(due)) {
			rest := c.emit(p.name, held[:len(held)-startedMark(held, p.mark)], false)
			held = append(held[:0], held[rest:]...)
			due = time.Now().Add(flushEvery)
		}
		if err != nil && !os.IsTimeout(err) {
			c.emit(p.name, held, true)
			return
		}
	}
}

// startedMark is the length of the longest end of b that begins mark.
func startedMark(b, mark []byte) int {
	for n := min(len(b), len(mark)-1); n > 0; n-- {
		if bytes.HasPrefix(mark, b[len(b)-n:]) {
			return n
		}
	}
	return 0
}

// emit hands text to the sink and returns how many bytes it took: a character
// that is cut in the middle stays behind unless all is set.
func (c *capture) emit(name string, b []byte, all bool) int {
	if !all {
		b = b[:len(b)-cutRune(b)]
	}
	if len(b) == 0 {
		return 0
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.sink == nil || c.muted {
		return len(b)
	}
	text := string(b)
	if len(text) > c.left {
		text = text[:c.left]
		c.muted = true
	}
	c.left -= len(text)
	if text != "" {
		c.sink.Stream(name, strings.ToValidUTF8(text, "\uFFFD"))
	}
	if c.muted {
		c.sink.Stream("stderr", fmt.Sprintf("\n[output cut here: this cell printed more than %d bytes]\n", c.limit))
	}
	return len(b)
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
