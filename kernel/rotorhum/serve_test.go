package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/go-zeromq/zmq4"

	"rotorhum/kernel/wire"
)

// serveChild, in the environment, makes the test program serve.
const serveChild = "ROTORHUM_TEST_SERVE"

func TestServeChild(t *testing.T) {
	file := os.Getenv(serveChild)
	if file == "" {
		t.Skip("runs as the child of TestServe")
	}
	os.Exit(dispatch([]string{"serve", file}, os.Stdout, os.Stderr))
}

// From the connection file to the end of the process, over ipc.
func TestServe(t *testing.T) {
	for _, end := range []string{"shutdown_request", "SIGTERM", "SIGHUP"} {
		t.Run(end, func(t *testing.T) {
			dir := t.TempDir()
			c := wire.Connection{Transport: "ipc", IP: filepath.Join(dir, "k"), Shell: 1, IOPub: 2, Stdin: 3, Control: 4, HB: 5, Key: "the key", SignatureScheme: "hmac-sha256"}
			data, err := json.Marshal(c)
			if err != nil {
				t.Fatal(err)
			}
			file := filepath.Join(dir, "connection.json")
			if err := os.WriteFile(file, data, 0o600); err != nil {
				t.Fatal(err)
			}
			child := exec.Command(os.Args[0], "-test.run=^TestServeChild$")
			child.Env = append(os.Environ(), serveChild+"="+file, "XDG_DATA_HOME="+filepath.Join(dir, "data"))
			var said bytes.Buffer
			child.Stdout, child.Stderr = &said, &said
			if err := child.Start(); err != nil {
				t.Fatal(err)
			}
			timer := time.AfterFunc(30*time.Second, func() { child.Process.Kill() })
			defer timer.Stop()

			front := newFront(t, c)
			if err := child.Process.Signal(syscall.SIGINT); err != nil { // must not end an idle kernel
				t.Fatal(err)
			}
			reply := front.ask(t, "shell", "execute_request", map[string]any{"code": "x := 6 * 7"})
			if reply["status"] != "ok" {
				t.Errorf("the cell's reply is %v; the kernel said %s", reply, &said)
			}
			switch end {
			case "shutdown_request":
				front.ask(t, "control", end, map[string]any{"restart": false})
			case "SIGTERM":
				child.Process.Signal(syscall.SIGTERM)
			case "SIGHUP":
				child.Process.Signal(syscall.SIGHUP)
			}
			if err := child.Wait(); err != nil {
				t.Errorf("the kernel ended with %v and said %s", err, &said)
			}
			if left, _ := filepath.Glob(c.IP + "*"); len(left) > 0 {
				t.Errorf("files left behind: %v", left)
			}
			kept, err := os.ReadFile(filepath.Join(dir, "data", "rotorhum", "history.jsonl"))
			if err != nil || !strings.Contains(string(kept), "6 * 7") {
				t.Errorf("the history holds %q, %v", kept, err)
			}
		})
	}
}

// front is a front end with two sockets.
type front struct {
	signer *wire.Signer
	socket map[string]zmq4.Socket
}

func newFront(t *testing.T, c wire.Connection) front {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	t.Cleanup(cancel)
	signer, err := wire.NewSigner(c.SignatureScheme, c.Key)
	if err != nil {
		t.Fatal(err)
	}
	f := front{signer, map[string]zmq4.Socket{}}
	for name, port := range map[string]int{"shell": c.Shell, "control": c.Control} {
		s := zmq4.NewDealer(ctx, zmq4.WithDialerRetry(20*time.Millisecond), zmq4.WithDialerMaxRetries(1000))
		if err := s.Dial(fmt.Sprintf("ipc://%s-%d", c.IP, port)); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { s.Close() })
		f.socket[name] = s
	}
	return f
}

// ask returns the content of the reply.
func (f front) ask(t *testing.T, channel, msgType string, content any) (reply map[string]any) {
	t.Helper()
	m, err := wire.New("test", msgType, nil, content, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := f.socket[channel].SendMulti(zmq4.NewMsgFrom(wire.Encode(m, f.signer)...)); err != nil {
		t.Fatal(err)
	}
	got, err := f.socket[channel].Recv()
	if err != nil {
		t.Fatal(err)
	}
	r, err := wire.Decode(got.Frames, f.signer)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(r.Content, &reply); err != nil {
		t.Fatal(err)
	}
	return reply
}

func TestServeRefuses(t *testing.T) {
	bad := filepath.Join(t.TempDir(), "bad.json")
	if err := os.WriteFile(bad, []byte(`{"transport":"tcp"}`), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		args []string
		code int
		says string
	}{
		{nil, exitBadUsage, "connection file"},
		{[]string{"a", "b"}, exitBadUsage, "connection file"},
		{[]string{"/no/such/file"}, exitBadInput, "/no/such/file"},
		{[]string{bad}, exitBadInput, "shell_port"},
	} {
		var out, errs bytes.Buffer
		code := dispatch(append([]string{"serve"}, row.args...), &out, &errs)
		if code != row.code || !strings.Contains(errs.String(), row.says) {
			t.Errorf("serve %q = %d, want %d: %q", row.args, code, row.code, &errs)
		}
	}
}
