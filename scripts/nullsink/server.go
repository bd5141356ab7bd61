package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// errNoServer says that no sound server can be started on this machine.
var errNoServer = errors.New("no sound server can be started here")

// sink is the device that leads nowhere; what is played into it can be recorded
// from its monitor. It takes samples as they are played here, so that nothing
// needs to be converted on the way.
const (
	sink     = "pier"
	sinkRate = 48000
)

// server is a sound server that only this program knows.
type server struct {
	cmd  *exec.Cmd
	said bytes.Buffer
	done chan struct{}
}

// startServer starts the server with its files in folder, and makes it the one
// that this process and its children speak to.
func startServer(folder string) (*server, error) {
	path, err := exec.LookPath("pulseaudio")
	if err != nil {
		return nil, fmt.Errorf("%w: pulseaudio is not installed", errNoServer)
	}
	for _, tool := range []string{"pacat", "parec", "pactl"} {
		if _, err := exec.LookPath(tool); err != nil {
			return nil, fmt.Errorf("%w: %s is missing (Debian package pulseaudio-utils)", errNoServer, tool)
		}
	}
	home := filepath.Join(folder, "home")
	if err := os.MkdirAll(home, 0o700); err != nil {
		return nil, err
	}
	socket := filepath.Join(folder, "socket")
	s := &server{done: make(chan struct{})}
	s.cmd = exec.Command(path, "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no", "--log-target=stderr",
		fmt.Sprintf("--load=module-null-sink sink_name=%s sink_properties=device.description=%s rate=%d channels=1 format=s16le", sink, sink, sinkRate),
		"--load=module-native-protocol-unix socket="+socket+" auth-anonymous=1")
	s.cmd.Env = append(os.Environ(), "HOME="+home, "XDG_RUNTIME_DIR="+home, "XDG_CONFIG_HOME="+home)
	s.cmd.Stderr = &s.said
	if err := s.cmd.Start(); err != nil {
		return nil, fmt.Errorf("%w: %v", errNoServer, err)
	}
	go func() {
		s.cmd.Wait()
		close(s.done)
	}()
	os.Setenv("PULSE_SERVER", "unix:"+socket)
	for range 200 {
		select {
		case <-s.done:
			return nil, fmt.Errorf("%w: %s", errNoServer, strings.TrimSpace(s.said.String()))
		case <-time.After(50 * time.Millisecond):
		}
		if out, err := exec.Command("pactl", "list", "short", "sources").Output(); err == nil && bytes.Contains(out, []byte(sink)) {
			return s, nil
		}
	}
	s.stop()
	return nil, fmt.Errorf("%w: it does not answer: %s", errNoServer, strings.TrimSpace(s.said.String()))
}

// stop ends the server.
func (s *server) stop() {
	s.cmd.Process.Kill()
	<-s.done
	if *verbose {
		os.Stderr.Write(s.said.Bytes())
		s.said.Reset()
	}
}
