//go:build !cgo

package device

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"strings"
	"sync"
	"time"
)

// recorder is a program that writes what it records to its standard output.
type recorder struct {
	name    string
	open    func(device string) []string // arguments; device is "" for the default
	list    []string                     // the command that lists devices
	devices func(listing []byte) []string
}

// recorderRate is the sample rate asked of a recorder program.
const recorderRate = 48000

var recorders = []recorder{
	{
		name: "parec",
		open: func(device string) []string {
			args := []string{"--raw", "--format=s16le", "--rate=48000", "--channels=1", "--latency-msec=20", "--client-name=rotorhum"}
			if device != "" {
				args = append(args, "--device="+device)
			}
			return args
		},
		list: []string{"pactl", "list", "short", "sources"},
		devices: func(listing []byte) (names []string) {
			for lines := bufio.NewScanner(bytes.NewReader(listing)); lines.Scan(); {
				if columns := strings.Split(lines.Text(), "\t"); len(columns) > 1 {
					names = append(names, columns[1])
				}
			}
			return names
		},
	},
	{
		name: "arecord",
		open: func(device string) []string {
			args := []string{"-q", "-t", "raw", "-f", "S16_LE", "-r", "48000", "-c", "1", "--period-time=10000"}
			if device != "" {
				args = append(args, "-D", device)
			}
			return args
		},
		list: []string{"arecord", "-L"},
		devices: func(listing []byte) (names []string) {
			for lines := bufio.NewScanner(bytes.NewReader(listing)); lines.Scan(); {
				if line := lines.Text(); line != "" && line[0] != ' ' && line[0] != '\t' && line != "null" {
					names = append(names, line)
				}
			}
			return names
		},
	},
}

// found returns the first recorder program that is installed.
func found() (recorder, error) {
	for _, r := range recorders {
		if _, err := exec.LookPath(r.name); err == nil {
			return r, nil
		}
	}
	return recorder{}, fmt.Errorf("%w can be reached: this program was built without C, and neither parec nor arecord is installed; "+
		"install one of them, or build with C (CGO_ENABLED=1 go build ./kernel/rotorhum)", ErrNone)
}

// Names returns the names of the microphones.
func Names() ([]string, error) {
	r, err := found()
	if err != nil {
		return nil, err
	}
	listing, err := exec.Command(r.list[0], r.list[1:]...).Output()
	if err != nil {
		return nil, fmt.Errorf("%w can be listed: %s: %v", ErrNone, strings.Join(r.list, " "), said(err))
	}
	return r.devices(listing), nil
}

// said returns the last line that a failed program wrote, or how it failed.
func said(err error) string {
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		if text := bytes.TrimSpace(exit.Stderr); len(text) > 0 {
			return string(text[bytes.LastIndexByte(text, '\n')+1:])
		}
	}
	return err.Error()
}

// Open starts a recorder program for the named microphone, the default one for "".
func Open(name string) (*Device, error) {
	r, err := found()
	if err != nil {
		return nil, err
	}
	if name != "" {
		names, err := Names()
		if err != nil {
			return nil, err
		}
		i, err := choose(name, names)
		if err != nil {
			return nil, err
		}
		name = names[i]
	}
	p := &process{cmd: exec.Command(r.name, r.open(name)...), done: make(chan struct{})}
	if p.out, err = p.cmd.StdoutPipe(); err != nil {
		return nil, err
	}
	p.cmd.Stderr = &p.words
	d := &Device{Name: name, Through: r.name, Rate: recorderRate, Channels: 1, Encoding: "s16le", begin: p.start, close: p.stop}
	if name == "" {
		d.Name = "the default microphone"
	}
	return d, nil
}

// process is a running recorder program.
type process struct {
	cmd   *exec.Cmd
	out   io.ReadCloser
	words bytes.Buffer // what it writes to standard error
	done  chan struct{}

	mu      sync.Mutex
	closing bool
}

// start runs the program and waits for its first sound or its failure, so that
// a device that cannot be opened is known at once.
func (p *process) start(sink Sink) error {
	if err := p.cmd.Start(); err != nil {
		close(p.done)
		return err
	}
	first := make(chan error, 1)
	go p.pump(sink, first)
	select {
	case err := <-first:
		return err
	case <-time.After(firstSound):
		return nil // its silence will be noticed
	}
}

// firstSound is how long a recorder program may take to deliver something.
const firstSound = 3 * time.Second

func (p *process) pump(sink Sink, first chan<- error) {
	defer close(p.done)
	const frame = 2
	buf := make([]byte, 4096)
	held, began := 0, false
	for {
		n, err := p.out.Read(buf[held:])
		held += n
		if whole := held - held%frame; whole > 0 {
			if !began {
				began = true
				first <- nil
			}
			sink.Put(buf[:whole])
			held = copy(buf, buf[whole:held])
		}
		if err == nil {
			continue
		}
		p.cmd.Wait()
		words := strings.TrimSpace(p.words.String())
		words = words[strings.LastIndexByte(words, '\n')+1:]
		if words == "" {
			words = "it said nothing"
		}
		p.mu.Lock()
		closing := p.closing
		p.mu.Unlock()
		switch {
		case !began:
			first <- fmt.Errorf("%w: %s delivers no sound (%s)", ErrNone, p.cmd.Path, words)
		case !closing:
			sink.End(fmt.Errorf("%w (%s: %s)", ErrGone, p.cmd.Path, words))
		}
		return
	}
}

func (p *process) stop() {
	p.mu.Lock()
	p.closing = true
	p.mu.Unlock()
	if p.cmd.Process == nil {
		return
	}
	p.cmd.Process.Kill()
	<-p.done
}
