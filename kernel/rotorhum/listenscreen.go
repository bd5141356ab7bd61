package main

import (
	"io"
	"os"
	"strings"
	"sync"

	"golang.org/x/term"

	"rotorhum/tacho"
	"rotorhum/tacho/listen"
)

// listenScreen shows a trial on the whole terminal. What was there before comes
// back at the end.
type listenScreen struct {
	out   io.Writer
	fd    int      // of the terminal
	keys  *os.File // where keys come from; nil for nowhere
	frame listenFrame

	mu      sync.Mutex
	old     *term.State // of keys, before
	started bool
}

// newListenScreen returns nil unless w is a terminal that can be drawn on. Keys
// come from standard input, or from the terminal itself if that carries sound.
func newListenScreen(w io.Writer, stdinTaken bool) *listenScreen {
	f, ok := w.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) || os.Getenv("TERM") == "dumb" || os.Getenv("TERM") == "" {
		return nil
	}
	v := &listenScreen{out: f, fd: int(f.Fd())}
	v.frame.colours = os.Getenv("NO_COLOR") == "" && manyColours()
	switch {
	case !stdinTaken && term.IsTerminal(int(os.Stdin.Fd())):
		v.keys = os.Stdin
	case stdinTaken:
		if tty, err := os.Open("/dev/tty"); err == nil {
			v.keys = tty
		}
	}
	return v
}

// manyColours reports whether the terminal says that it has 256 colours or more.
func manyColours() bool {
	return strings.Contains(os.Getenv("TERM"), "256") || os.Getenv("COLORTERM") != ""
}

// Sequences of ECMA-48 and of the private modes that terminals share.
const (
	enterScreen = "\x1b[?1049h\x1b[?25l\x1b[2J" // another page, no cursor, empty
	leaveScreen = "\x1b[0m\x1b[?25h\x1b[?1049l"
	beginFrame  = "\x1b[?2026h\x1b[H" // show nothing half drawn; from the corner
	endFrame    = "\x1b[0m\x1b[J\x1b[?2026l"
	endOfLine   = "\x1b[0m\x1b[K\r\n"
)

// begin takes the terminal over and ends the listening when a key is pressed.
func (v *listenScreen) begin(end func()) func() {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.started = true
	if v.keys != nil {
		if old, err := term.MakeRaw(int(v.keys.Fd())); err == nil {
			v.old = old
			go func() {
				var key [16]byte
				if n, err := v.keys.Read(key[:]); n > 0 && err == nil {
					end()
				}
			}()
		}
	}
	io.WriteString(v.out, enterScreen)
	return nil
}

// end gives the terminal back.
func (v *listenScreen) end() {
	v.mu.Lock()
	defer v.mu.Unlock()
	if !v.started {
		return
	}
	v.started = false
	io.WriteString(v.out, leaveScreen)
	if v.old != nil {
		term.Restore(int(v.keys.Fd()), v.old)
	}
}

// show draws the newest reading.
func (v *listenScreen) show(s *listen.State) {
	v.mu.Lock()
	defer v.mu.Unlock()
	if !v.started {
		return
	}
	width, height, err := term.GetSize(v.fd)
	if err != nil || width < 1 || height < 1 {
		width, height = 80, 24
	}
	v.frame.add(s)
	var b strings.Builder
	b.WriteString(beginFrame)
	for i, line := range v.frame.lines(width, height) {
		if i > 0 {
			b.WriteString(endOfLine)
		}
		b.WriteString(line)
	}
	b.WriteString(endFrame)
	io.WriteString(v.out, b.String())
}

func (v *listenScreen) heard(r *listen.Result) { writeHeard(v.out, r) }

func (v *listenScreen) measured(r *listen.Result, m *tacho.Measurement) error {
	return writeMeasured(v.out, r, m)
}
